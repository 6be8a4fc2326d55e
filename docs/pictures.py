"""The pictures of the documents, taken of the demonstration in a browser: python docs/pictures.py

Needs Chromium and the `dev` extra. Everything in the pictures is invented and says so.
"""

import contextlib
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

PICTURES = Path(__file__).resolve().parent / "pictures"
TABLE = (
    "Table 2. Normalised EMG amplitude (%MVIC). [Invented]\n\tNordic curl\tLying leg curl\n"
    "Biceps femoris\t82.4 ± 21.3\t71.6 ± 19.5\nST\t91.7 ± 24.0\t80.3 ± 22.1\n"
)


DRAFT = """# [Invented] Hamstrings for runners

Seated curls grow the hamstrings more than lying curls.
Studies show that the Nordic is the best hamstring exercise.
Train through the pain, it goes away.
"""
PROGRAMME = """# [Invented] Two lower-body sessions

Day 1
Seated leg curl 3x10-12 @ RIR 1, rest 90 s
Leg press 3x8

Day 2
Nordic curl 3x5
Standing calf raise 4x12
"""


def take(page: Page, home: str) -> None:
    """Each picture of the documents, by its name."""
    page.goto(f"{home}/?token=key")
    page.goto(f"{home}/claims/seated-curl-growth")
    page.screenshot(path=str(PICTURES / "claim.png"))
    page.goto(f"{home}/studies/plate-2017/table")
    page.locator("#table").fill(TABLE)
    page.locator("#read_from").select_option("full text")
    page.locator("#spread").select_option("SD")
    page.get_by_role("button", name="Look at it").click()
    page.locator("main").screenshot(path=str(PICTURES / "table.png"))
    page.goto(f"{home}/claims/new")
    page.locator("#sentence").fill("Nordic curls work the hamstrings more than leg curls")
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(1500)
    shoot(page, "stating.png", 620)
    page.goto(f"{home}/regions/hamstrings?outcome=activation")
    page.wait_for_load_state("networkidle")
    shoot(page, "ranking.png", 900)
    page.goto(f"{home}/drafts")
    page.get_by_label("Name").fill("hamstrings")
    page.locator("#text").fill(DRAFT)
    page.get_by_role("button", name="Bring it in").click()
    shoot(page, "draft.png", 900)
    page.goto(f"{home}/programmes")
    page.get_by_label("Name").fill("two-sessions")
    page.locator("#text").fill(PROGRAMME)
    page.get_by_role("button", name="Bring it in").click()
    shoot(page, "programme.png", 900)
    page.goto(f"{home}/changes")
    shoot(page, "changes.png", 700)


def shoot(page: Page, name: str, height: int) -> None:
    """The top of the page as it stands, `height` pixels of it."""
    page.wait_for_load_state("networkidle")
    page.set_viewport_size({"width": 1000, "height": height})
    page.evaluate("scrollTo(0, 0)")
    page.screenshot(path=str(PICTURES / name))


def main() -> None:
    """Serve the demonstration, look at it, write the pictures."""
    import uvicorn

    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        # What went out is named as it was typed: so no folder of a machine stands in a picture.
        with contextlib.chdir(folder):
            made = demonstrate(Path("demo"), lambda text: None)
        place = Path(folder) / "catalogue.sqlite"
        shutil.copy(Path(folder) / made.catalogue, place)
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
