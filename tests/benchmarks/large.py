"""Every command and every page on a large invented catalogue: seconds by the clock and of the processor.

Run: python tests/benchmarks/large.py [FOLDER] [--only TEXT] [--keep FOLDER]. The catalogue (100,000 references, 5,000
studies, 50,000 results, 5,000 claims, all weighed once, and the demonstration among them) is made in FOLDER, or found
there; it takes some minutes. Every command is run as the example of its help is, each on the catalogue as it was made;
some more name what is heaviest. `--only` runs what holds this text, `--keep` writes down what was answered, `--least 1`
counts those that took less than a second instead of listing them. `look-up` (it asks the net), `serve` and `demo` are
not run.
"""

import argparse
import gc
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from statistics import median
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "evidence" / "cli"))

from large_pages import pages_of
from synthetic import WHO, fill_catalogue
from test_help_pages import BEFORE, EXAMPLES, MADE

from evidence.cli.main import RUBBISH
from evidence.workflows.opening import open_named, vocabulary_of

CATALOGUE = "catalogue.sqlite"
# What the examples do not ask: claims and studies in the midst of all others, and the longest answers.
MORE = (
    "steelyard weigh claim-00100", "steelyard trace claim-00100", "steelyard trace study-00100/r1",
    "steelyard trace study-00101/r1", "steelyard claim rate claim-00100", "steelyard claim show claim-00100",
    "steelyard claim list", "steelyard brief claim-00100 --to brief.html", "steelyard study show study-00100",
    "steelyard claim propose 'hip thrusts activate the glutes more than squats'",
    "steelyard rank hamstrings --outcome growth", "steelyard rank hamstrings --outcome activation --level family",
    "steelyard rank hamstrings --outcome activation --to ranking.html", "steelyard review --json",
    "steelyard changes", "steelyard uses seated-curl-growth", "steelyard check", "steelyard refs list squat",
    "steelyard refs match 'Fictional77 and others 1995, the imagined series'", "steelyard refs show fictional99",
    "steelyard refs find imagined series", "steelyard refs cite fictional99 --as markdown",
    "steelyard results show study-00100", "steelyard study judge study-00100", "steelyard refs add new.bib",
    "steelyard study load new.yaml", "steelyard changes --since 2026-01-01", "steelyard undo",
    f"steelyard publish handout {' '.join(f'--claim claim-{n:05d}' for n in range(100, 120))} --to twenty.pdf",
    "steelyard claim together claim-00100 claim-00200 --critical claim-00100",
    "steelyard claim leave-out claim-00100 study-00100 --because 'other people'",
    "steelyard claim remove claim-00100 --because 'asked twice'",
    "steelyard claim rate claim-00100 imprecision serious --because 'few people'",
    "steelyard programme annotate plan.yaml --to plan.html", "steelyard undo --who Kim",
)  # fmt: skip
# What one of them undoes: a mark on every reference.
EARLIER = {**BEFORE, "steelyard undo --who Kim": ["steelyard refs notices apply retractions.csv"]}
NEW = {
    "new.bib": "@article{sandbag2025, author={Sandbag, S.}, year=2025, journal={Journal of Invented Strength},\n"
    "title={[Invented] Loaded carries and the calves}, doi={10.5555/synthetic.sandbag}}\n",
}


@dataclass(frozen=True, slots=True)
class Run:
    """One command: seconds by the clock and of the processor, megabytes at most, exit status, and what it printed."""

    line: str
    seconds: float
    busy: float
    megabytes: float
    status: int
    said: str


def make_large(folder: Path, studies: int = 5_000, claims: int = 5_000, references: int = 100_000) -> Path:
    """The large catalogue with the files that the examples name, made where it is not there yet; its folder."""
    place = folder / f"large-{studies}"
    if (place / CATALOGUE).exists():
        return place
    from evidence.catalogue.state import keep_state
    from evidence.workflows.demonstrating import demonstrate
    from evidence.workflows.pages.claim_lists import list_claims
    from evidence.workflows.pages.writing_desk import add_draft, add_programme
    from evidence.workflows.upkeep.standings import keep_first

    place.mkdir(parents=True, exist_ok=True)
    made = demonstrate(folder / "demo", lambda text: None)
    shutil.copy(made.catalogue, place / "unfinished.sqlite")
    shutil.rmtree(folder / "demo")
    lay_out(place)
    with open_named(str(place / "unfinished.sqlite"), {}) as catalogue:
        fill_catalogue(catalogue, studies, 10, claims, references)
        new = [line.key for line in list_claims(catalogue) if line.verdict == "not weighed"]
        keep_first(catalogue, WHO, new, vocabulary_of(catalogue))
        add_programme(catalogue, "two-days", (place / "plan.yaml").read_bytes(), "yaml", WHO)
        add_draft(catalogue, "curl-article", (place / "article.md").read_bytes(), "markdown", WHO)
        start = time.process_time()
        keep_state(catalogue)
        print(
            f"the state of the whole, kept for all later commands: {time.process_time() - start:.1f} s CPU",
            flush=True,
        )
    (place / "unfinished.sqlite").rename(place / CATALOGUE)
    return place


def lay_out(place: Path) -> None:
    """The files that the examples name."""
    data = Path(str(files("evidence.workflows") / "demo_data"))
    study = (data / "studies" / "anvil-2019.yaml").read_text("utf-8")
    copied = {"references.bib": "library.bib", "notices.csv": "retractions.csv", "programme.yaml": "plan.yaml",
              "pasted_table.txt": "table.txt", "claims.yaml": "claims.yaml",
              "studies/anvil-2019.yaml": "anvil-2019.yaml"}  # fmt: skip
    for source, name in copied.items():
        shutil.copy(data / source, place / name)
    for name, text in {**MADE, **NEW, "new.yaml": study.replace("anvil-2019", "anvil-2099")}.items():
        (place / name).write_text(text, "utf-8")


def run_line(place: Path, line: str) -> Run:
    """Run a command line in the folder, with what stands behind < and > as its input and output."""
    words, given, to = shlex.split(line), None, None
    if ">" in words:
        to = words[words.index(">") + 1]
        words = words[: words.index(">")]
    if "<" in words:
        given = place / words[words.index("<") + 1]
        words = words[: words.index("<")]
    program = [sys.executable, "-c", "from evidence.cli.main import run; run()", *words[1:]]
    surroundings = {**os.environ, "STEELYARD_CATALOGUE": CATALOGUE, "STEELYARD_WHO": "Sam"}
    with tempfile.TemporaryFile() as told, (given or Path(os.devnull)).open("rb") as source:
        start = time.perf_counter()
        process = subprocess.Popen(
            program, cwd=place, env=surroundings, stdin=source, stdout=told, stderr=subprocess.STDOUT
        )
        _, status, used = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - start
        process.returncode = os.waitstatus_to_exitcode(status)
        told.seek(0)
        said = told.read().decode("utf-8", "replace")
    if to:
        (place / to).write_text(said, "utf-8")
    busy = used.ru_utime + used.ru_stime
    return Run(line, seconds, busy, used.ru_maxrss / 1024, process.returncode, said)


def state_of(place: Path) -> tuple[int, int]:
    """What changes when anything is written into the catalogue."""
    state = (place / CATALOGUE).stat()
    return state.st_size, state.st_mtime_ns


def run_commands(large: Path, work: Path, only: str) -> Iterator[Run]:
    """Every command, on the catalogue as it was made."""
    shutil.copytree(large, work, dirs_exist_ok=True)
    fresh = state_of(work)
    for path, line in [*EXAMPLES, *((line, line) for line in MORE)]:
        if only not in line or "refs look-up" in line:
            continue
        if state_of(work) != fresh:
            shutil.copy(large / CATALOGUE, work / CATALOGUE)
            fresh = state_of(work)
        if path == "steelyard init":
            line = "steelyard --catalogue new-one.sqlite init"
        for earlier in EARLIER.get(path, ()):
            run_line(work, earlier)
        done = run_line(work, line)
        fine = done.status in (0, 1) and "Traceback" not in done.said
        yield done if fine else replace(done, said=f"FAILED: {done.said}")


def run_pages(
    large: Path, work: Path, only: str, rounds: int = 2
) -> Iterator[tuple[str, list[float], list[float], str]]:
    """Every page as a visitor sees it: seconds by the clock, and of the processor, of the first look and the next."""
    from starlette.testclient import TestClient

    from evidence.web.application import make_application
    from evidence.web.security import make_door
    from evidence.web.site import Site

    shutil.copytree(large, work, dirs_exist_ok=True)
    for page in pages_of():
        if only not in page:
            continue
        with open_named(str(work / CATALOGUE), {}) as catalogue:  # opened anew: nothing is remembered
            app = make_application(Site(catalogue, "Ada"), make_door(7433, "key"))
            with TestClient(app, base_url="http://127.0.0.1:7433", follow_redirects=False) as client:
                client.get("/?token=key")
                times: list[float] = []
                busy: list[float] = []
                for _ in range(1 + rounds):
                    start, begun = time.perf_counter(), time.process_time()
                    answer = open_page(client, page)
                    times.append(time.perf_counter() - start)
                    busy.append(time.process_time() - begun)
                text = (
                    answer.text if answer.status_code < 400 else f"FAILED {answer.status_code}: {answer.text}"
                )
        yield page, times, busy, text


def open_page(client: Any, page: str) -> Any:
    """A page as a visitor comes to it, the waiting for what is worked out included."""
    place = page
    while True:
        answer = client.get(place)
        if answer.status_code == 303:
            place = answer.headers["location"]
        elif answer.url.path.startswith("/work/"):
            time.sleep(0.1)
        else:
            return answer


def keep_answer(folder: Path | None, name: str, text: str) -> None:
    """Write down what was answered, to be held against another run."""
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / re.sub(r"[^\w.-]+", "_", name)[:150]).write_text(text, "utf-8")


def main(
    folder: Path, only: str, kept: Path | None, parts: str = "commands pages", least: float = 0.0
) -> int:
    """Time every command and every page, or only make the catalogue (`parts`: none); 1 where one failed."""
    gc.set_threshold(*RUBBISH)  # as the program does
    if parts == "none":
        make_large(folder)
        return 0
    # Made by a process of its own: no command is told to take less memory than the process that starts it.
    subprocess.run([sys.executable, __file__, str(folder), "--parts", "none"], check=True)
    large = make_large(folder)
    failed = time_commands(large, folder, only, kept, least) if "commands" in parts else 0
    return min(1, failed + (time_pages(large, folder, only, kept, least) if "pages" in parts else 0))


def time_commands(large: Path, folder: Path, only: str, kept: Path | None, least: float) -> int:
    """Time every command; how many failed."""
    failed, quick = 0, 0
    print(f"{'command':<86}{'seconds':>8}{'CPU':>7}{'MB':>6}")
    with tempfile.TemporaryDirectory(dir=folder) as work:
        for run in run_commands(large, Path(work), only):
            keep_answer(kept, run.line, run.said)
            wrong = run.said.startswith("FAILED")
            failed += wrong
            if run.busy < least and not wrong:
                quick += 1
                continue
            mark = f"  failed: {run.said[8:300]}" if wrong else ""
            print(f"{run.line:<86}{run.seconds:>8.1f}{run.busy:>7.1f}{run.megabytes:>6.0f}{mark}", flush=True)
    tell_quick(quick, "commands", least)
    return failed


def time_pages(large: Path, folder: Path, only: str, kept: Path | None, least: float) -> int:
    """Time every page; how many failed."""
    failed, quick = 0, 0
    print(f"\n{'page':<76}{'first s':>8}{'CPU':>7}{'next ms':>9}{'CPU':>6}")
    with tempfile.TemporaryDirectory(dir=folder) as work:
        for name, times, busy, text in run_pages(large, Path(work), only):
            keep_answer(kept, name, text)
            wrong = text.startswith("FAILED")
            failed += wrong
            usual, worked = (1000 * median(found[1:] or found) for found in (times, busy))
            if busy[0] < least and worked < 100 * least and not wrong:
                quick += 1
                continue
            mark = f"  failed: {text[7:300]}" if wrong else ""
            print(f"{name:<76}{times[0]:>8.2f}{busy[0]:>7.2f}{usual:>9.0f}{worked:>6.0f}{mark}", flush=True)
    tell_quick(quick, "pages", least)
    return failed


def tell_quick(many: int, what: str, least: float) -> None:
    """How many took less than is listed; a page, looked at again, less than a tenth of it."""
    if many:
        again = ", and again less than a tenth of that" if what == "pages" else ""
        print(f"{many} other {what}: less than {least:g} s CPU each{again}", flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="?")
    parser.add_argument("--only", default="")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--parts", default="commands pages")
    parser.add_argument("--least", type=float, default=0.0)
    asked = parser.parse_args()
    if asked.folder is not None:
        sys.exit(main(asked.folder.resolve(), asked.only, asked.keep, asked.parts, asked.least))
    with tempfile.TemporaryDirectory() as made:
        sys.exit(main(Path(made), asked.only, asked.keep, asked.parts, asked.least))
