"""The pictures of the README, taken of the demonstration in a browser: python docs/pictures.py

Needs Chromium and the `dev` extra. Everything in the pictures is invented and says so.
"""

import shutil
import tempfile
import threading
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from evidence.web.application import make_application
from evidence.web.security import make_door
from evidence.web.serving import listen
from evidence.web.site import Site
from evidence.workflows.demonstrating import demonstrate
from evidence.workflows.opening import open_named

PICTURES = Path(__file__).parent / "pictures"
TABLE = (
    "Table 2. Normalised EMG amplitude (%MVIC). [Invented]\n\tNordic curl\tLying leg curl\n"
    "Biceps femoris\t82.4 ± 21.3\t71.6 ± 19.5\nST\t91.7 ± 24.0\t80.3 ± 22.1\n"
)


def take(page: Page, home: str) -> None:
    """A claim weighed, and a pasted table as it is understood."""
    page.goto(f"{home}/?token=key")
    page.goto(f"{home}/claims/seated-curl-growth")
    page.screenshot(path=str(PICTURES / "claim.png"))
    page.goto(f"{home}/studies/plate-2017/table")
    page.locator("#table").fill(TABLE)
    page.locator("#read_from").select_option("full text")
    page.locator("#spread").select_option("SD")
    page.get_by_role("button", name="Look at it").click()
    page.locator("main").screenshot(path=str(PICTURES / "table.png"))


def main() -> None:
    """Serve the demonstration, look at it, write the pictures."""
    import uvicorn

    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        made = demonstrate(Path(folder) / "demo", lambda text: None)
        place = Path(folder) / "catalogue.sqlite"
        shutil.copy(made.catalogue, place)
        with open_named(str(place), {}) as catalogue, sync_playwright() as playwright:
            listening = listen(0)
            port = listening.getsockname()[1]
            app = make_application(Site(catalogue, "a coach"), make_door(port, "key"))
            server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
            threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True).start()
            while not server.started:
                time.sleep(0.05)
            browser = playwright.chromium.launch(
                executable_path=chromium, args=["--no-sandbox", "--disable-gpu"]
            )
            take(browser.new_page(viewport={"width": 1000, "height": 1000}), f"http://127.0.0.1:{port}")
            browser.close()
            server.should_exit = True


if __name__ == "__main__":
    main()
