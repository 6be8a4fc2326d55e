"""The page in a real browser. These tests are collected only where Chromium is installed (the gate installs it)."""

import shutil
import threading
import time
from importlib.resources import files

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
if CHROMIUM is None:
    collect_ignore_glob = ["test_*.py"]

SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def chromium():
    """One browser for all tests."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def demonstrated(tmp_path_factory):
    """The demonstration's catalogue, made once."""
    from evidence.workflows.demonstrating import demonstrate

    return demonstrate(tmp_path_factory.mktemp("demonstration") / "demo", lambda text: None).catalogue


class Served:
    """A page served over a catalogue, on a free port of this machine."""

    def __init__(self, place):
        import uvicorn

        from evidence.web.application import make_application
        from evidence.web.security import make_door
        from evidence.web.serving import listen
        from evidence.web.site import Site
        from evidence.workflows.opening import open_named

        self.catalogue = open_named(str(place), {})
        listening = listen(0)
        self.port = listening.getsockname()[1]
        app = make_application(Site(self.catalogue, "Ada"), make_door(self.port, "key"))
        self.server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [listening]}, daemon=True)
        self.thread.start()
        while not self.server.started:
            time.sleep(0.01)

    @property
    def home(self):
        return f"http://127.0.0.1:{self.port}"

    def stop(self):
        self.server.should_exit = True
        self.thread.join(10)
        self.catalogue.close()


@pytest.fixture(scope="session")
def reading_site(demonstrated, tmp_path_factory):
    """A page over the demonstration for tests that change nothing."""
    place = tmp_path_factory.mktemp("reading") / "catalogue.sqlite"
    shutil.copy(demonstrated, place)
    served = Served(place)
    yield served
    served.stop()


@pytest.fixture(scope="session")
def reading_page(reading_site, chromium):
    """One window over it, for tests that only look; what the browser complains of is left to `visit`."""
    window = chromium.new_context(base_url=reading_site.home, bypass_csp=True)  # axe is put into the page
    page = window.new_page()
    page.set_default_timeout(10_000)
    page.goto("/?token=key")
    yield page
    window.close()


@pytest.fixture
def site(demonstrated, tmp_path):
    """A page over a copy of the demonstration, to be changed."""
    shutil.copy(demonstrated, tmp_path / "catalogue.sqlite")
    served = Served(tmp_path / "catalogue.sqlite")
    yield served
    served.stop()


@pytest.fixture
def visit(chromium):
    """Open a page of a served site in a fresh window; what the browser complains of fails the test."""
    windows, complaints = [], []

    def opened(served, path="/", *, expect=(), size=(1100, 900), **options):
        window = chromium.new_context(
            viewport={"width": size[0], "height": size[1]}, base_url=served.home, **options
        )
        windows.append(window)
        page = window.new_page()
        page.set_default_timeout(10_000)

        def heard(message):
            if message.type in ("error", "warning") and not any(part in message.text for part in expect):
                complaints.append(f"{page.url}: {message.text}")

        page.on("console", heard)
        page.on("pageerror", lambda fault: complaints.append(f"{page.url}: {fault}"))
        page.on(
            "request",
            lambda asked: (
                None
                if asked.url.startswith((served.home, "data:"))
                else complaints.append(f"outside request: {asked.url}")
            ),
        )
        page.goto("/?token=key")
        page.goto(path)
        return page

    yield opened
    for window in windows:
        window.close()
    assert complaints == []


@pytest.fixture(scope="session")
def axe():
    """Accessibility checks (axe-core, MPL-2.0, as the Python package carries it)."""
    script = (files("axe_playwright_python") / "axe.min.js").read_text("utf-8")
    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

    def violations(page):
        page.evaluate(script)
        found = page.evaluate("rules => axe.run(document, {runOnly: rules})", rules)
        return [
            f"{v['id']}: {v['help']} at {[node['target'] for node in v['nodes']][:3]}"
            for v in found["violations"]
        ]

    return violations
