"""The real command, in this process, on a catalogue of its own."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.testing import CliRunner

from evidence.cli.main import app, hoisted


@dataclass(frozen=True)
class Said:
    """What a command printed and how it ended."""

    status: int
    text: str


Steelyard = Callable[..., Said]


@pytest.fixture
def steelyard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Steelyard:
    """Runs `steelyard ...` on a catalogue in a temporary folder, which is also the working folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STEELYARD_CATALOGUE", str(tmp_path / "catalogue.sqlite"))
    monkeypatch.setenv("STEELYARD_WHO", "Sam")
    monkeypatch.delenv("STEELYARD_DEBUG", raising=False)
    runner = CliRunner()

    def run(*arguments: str | Path, stdin: str | bytes | None = None) -> Said:
        result = runner.invoke(app, hoisted([str(a) for a in arguments]), input=stdin)
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        assert "Traceback" not in result.output
        return Said(result.exit_code, result.output)

    return run


@pytest.fixture
def demo_inputs() -> Path:
    """The invented inputs of the demonstration."""
    from importlib.resources import files

    return Path(str(files("evidence.workflows") / "demo_data"))
