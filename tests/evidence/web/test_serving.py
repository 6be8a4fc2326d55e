"""Serving on this machine: whoever comes early waits in line; a first catalogue of one's own is made."""

import socket
from pathlib import Path

import pytest
from typer.testing import CliRunner

from evidence.cli.main import app
from evidence.errors import BadInput
from evidence.web import serving
from evidence.web.serving import HOME, listen


def test_a_port_takes_visitors_from_the_moment_its_address_is_known() -> None:
    with listen(0) as listening, socket.create_connection(listening.getsockname(), timeout=1) as visitor:
        assert visitor.getpeername()[0] == HOME


def test_a_second_page_at_the_same_port_is_refused_with_what_to_do() -> None:
    with listen(0) as listening, pytest.raises(BadInput, match="--port 0 for any free one"):
        listen(listening.getsockname()[1])


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """Where pages were served, instead of serving them; nobody's own catalogue is touched."""
    places: list[str] = []
    monkeypatch.setattr(serving, "serve", lambda catalogue, *rest: places.append(str(catalogue.location)))
    monkeypatch.setenv("HOME", str(tmp_path))
    for name in ("STEELYARD_CATALOGUE", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    return places


def test_the_page_alone_is_enough_for_a_first_catalogue(served: list[str], tmp_path: Path) -> None:
    first = CliRunner().invoke(app, ["serve", "--no-browser"])
    again = CliRunner().invoke(app, ["serve", "--no-browser"])
    assert (first.exit_code, again.exit_code, len(served)) == (0, 0, 2)
    assert "Created an empty catalogue" in first.output and "Created" not in again.output
    assert list(tmp_path.rglob("catalogue.sqlite"))


def test_a_catalogue_that_is_named_and_missing_is_not_made(served: list[str], tmp_path: Path) -> None:
    named = tmp_path / "misspelt.sqlite"
    result = CliRunner().invoke(app, ["--catalogue", str(named), "serve", "--no-browser"])
    assert result.exit_code == 3 and "there is no catalogue here" in result.output
    assert served == [] and not named.exists()
