"""A page over the demonstration's catalogue, visited as a browser would."""

import shutil

import pytest
from starlette.testclient import TestClient

from evidence.web.application import make_application
from evidence.web.security import make_door
from evidence.web.site import Site
from evidence.web.works import Works
from evidence.workflows.demonstrating import demonstrate
from evidence.workflows.opening import open_named

PORT = 7433
HOME = f"http://127.0.0.1:{PORT}"


@pytest.fixture(scope="session")
def demonstration(tmp_path_factory):
    """The demonstration, run once."""
    return demonstrate(tmp_path_factory.mktemp("demonstration") / "demo", lambda text: None)


@pytest.fixture
def site(demonstration, tmp_path):
    """A copy of the demonstration's catalogue, which tests may change."""
    place = tmp_path / "catalogue.sqlite"
    shutil.copy(demonstration.catalogue, place)
    with open_named(str(place), {}) as catalogue:
        # A busy machine takes longer than half a second for what is small.
        yield Site(catalogue, "Ada", works=Works(patience=60))


@pytest.fixture
def stranger(site):
    """A visitor without the token."""
    with TestClient(
        make_application(site, make_door(PORT, "key", largest_body=200_000)),
        base_url=HOME,
        follow_redirects=False,
        raise_server_exceptions=False,
    ) as client:
        yield client


@pytest.fixture
def visitor(stranger):
    """A visitor who was let in, sending what a browser sends."""
    assert stranger.get("/?token=key").status_code == 303
    stranger.headers["Origin"] = HOME
    stranger.headers["Sec-Fetch-Site"] = "same-origin"
    stranger.follow_redirects = True
    return stranger
