"""All benchmarks in one go, written as one page: `python tests/benchmarks/run.py [--only NAME [--put-in]]`.

Needs the extra `bench`; R with metafor is used where it is installed. A module with `rows()` gives lines of the table;
any other program is run as it is and its words are kept. To add one, add a line to TABLES or PROGRAMS.
"""

import argparse
import importlib
import importlib.metadata
import os
import platform
import random
import re
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before NumPy is loaded: processor seconds of one thread

# Title, module with rows().
TABLES = (
    ("Pooling", "pooling"),
    ("Dependent results", "multilevel"),
    ("Network comparison", "network"),
)
# Title, file, arguments; a file that is not there is told as not measured.
PROGRAMS = (
    ("Re-weighing", "reweighing.py", ()),
    ("Drafts", "drafts.py", ()),
    ("Pages", "pages.py", ()),
    ("Duplicate references", "duplicates.py", (".", "--only-size", "20000")),
    ("Large reference files", "large_files.py", ("--megabytes", "50")),
    ("A large catalogue", "large.py", ("--least", "1")),
)
# What has to be known of a program's figures, by file.
NOTES = {
    "large.py": "100,000 references, 5,000 studies, 50,000 results and 5,000 claims on 20 exercises, all weighed\n"
    "once, and the demonstration among them. Each command runs on the catalogue as it was made, so that\n"
    "`refs match` and `refs duplicates` work out what is kept for later ones, which take 3 s and 2 s. A page that\n"
    "takes longer than half a second is watched meanwhile, and kept until something changes."
}
LIBRARIES = ("numpy", "scipy", "statsmodels", "pymare")
OPENING = """# How fast it is

Written by `python tests/benchmarks/run.py` (extra `bench`); run it again rather than trust these figures on another
machine. Times are processor seconds of one thread. "Ratio" is how many times as long the rival takes for the same data:
the two run in turn, and the median of the pairs is given with the least and the most. R is timed inside one session by
its own count, so that its start does not weigh in.
Whether the figures are right is another question: [coverage](coverage.md), [known divergences](known-divergences.md).
"""


def describe_machine() -> str:
    """Processors, Python and the versions of the libraries."""
    found = []
    for name in LIBRARIES:
        try:
            found.append(f"{name} {importlib.metadata.version(name)}")
        except importlib.metadata.PackageNotFoundError:
            found.append(f"{name} not installed")
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return f"Here: {cores} cores, Python {platform.python_version()}, {', '.join(found)}, {ask_r()}."


def ask_r() -> str:
    """The versions of R and metafor, or that they are not there."""
    program = "cat(paste('R', getRversion(), 'with metafor', packageVersion('metafor')))"
    try:
        done = subprocess.run(
            ["Rscript", "-e", program], capture_output=True, text=True, timeout=60, check=True
        )
    except (OSError, subprocess.SubprocessError):
        return "R with metafor not installed"
    return done.stdout.strip()


def measure_table(title: str, module: str) -> str:
    """One section with its table."""
    lines = [f"## {title}", "", "| what | ours | rival | ratio | |", "| --- | --- | --- | --- | --- |"]
    for row in importlib.import_module(module).rows():
        print(f"  {row.what}: {row.cells()[1]} {row.rival} {row.cells()[3]}", file=sys.stderr)
        lines.append(f"| {' | '.join(row.cells())} |")
    return "\n".join(lines)


def measure_whole() -> str:
    """A whole command against a whole R program, start-up and reading included: processor seconds in pairs."""
    rng = random.Random(1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "effects.csv"
        rows = [(rng.gauss(0.3, 0.4), rng.uniform(0.02, 0.2)) for _ in range(200)]
        lines = [f"s{i},{y:.4f},{v:.4f}" for i, (y, v) in enumerate(rows)]
        path.write_text("\n".join(["study,yi,vi", *lines]) + "\n", encoding="utf-8")
        call = f"suppressMessages(library(metafor)); print(rma(yi, vi, data = read.csv('{path}'), test = 'knha'))"
        program = "from evidence.cli.main import run; run()"
        ours = [sys.executable, "-c", program, "compute", "pool", str(path)]
        pairs = [(spend(ours), spend(["Rscript", "-e", call])) for _ in range(6)][1:]  # the first warms up
    shown = f"{statistics.median(a for a, _ in pairs if a is not None):.2f} s"
    ratios = sorted(b / a for a, b in pairs if a and b)
    rival = (
        f"; R with metafor {statistics.median(ratios):.1f} × ({ratios[0]:.1f} to {ratios[-1]:.1f})"
        if ratios
        else ""
    )
    return (
        "## A whole command\n\n`steelyard compute pool` on a CSV of 200 effects, start-up and reading included: "
        f"{shown} of processor time{rival}."
    )


def spend(command: list[str]) -> float | None:
    """Processor seconds of a program; None when it cannot be run."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    try:
        subprocess.run(command, capture_output=True, timeout=300, check=True)
    except (OSError, subprocess.SubprocessError):
        return None
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def run_program(title: str, file: str, arguments: tuple[str, ...]) -> str:
    """One section with what a program printed."""
    path = HERE / file
    if not path.exists():
        return f"## {title}\n\nNot measured here: `tests/benchmarks/{file}` is not there."
    done = subprocess.run(
        [sys.executable, str(path), *arguments], capture_output=True, text=True, timeout=7200
    )
    if done.returncode:
        print(f"{file}:\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}", file=sys.stderr)
    said = (
        done.stdout.strip() if done.returncode == 0 else "Not measured here: the program ended with an error."
    )
    note = f"{NOTES[file]}\n\n" if file in NOTES else ""
    command = f"`python tests/benchmarks/{' '.join((file, *arguments))}`, by the clock on the wall:"
    return f"## {title}\n\n{note}{command}\n\n```text\n{said}\n```"


def put_in(text: str, sections: list[str]) -> str:
    """The page with these sections in place of those of the same title, or at its end."""
    for section in sections:
        title = section.splitlines()[0]
        found = re.search(rf"^{re.escape(title)}$.*?(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
        whole = section.strip() + "\n\n"
        text = (
            text[: found.start()] + whole + text[found.end() :] if found else text.rstrip() + "\n\n" + whole
        )
    return text.rstrip() + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", action="append", default=[], help="a module or file; may be repeated")
    parser.add_argument("--put-in", action="store_true", help="with --only: put the sections into the page")
    chosen = parser.parse_args()
    sections = []
    for title, module in TABLES:
        if not chosen.only or module in chosen.only:
            sections.append(measure_table(title, module))
    if not chosen.only or "whole" in chosen.only:
        sections.append(measure_whole())
    for title, file, arguments in PROGRAMS:
        if not chosen.only or file.removesuffix(".py") in chosen.only:
            sections.append(run_program(title, file, arguments))
    page = HERE.parents[1] / "docs" / "benchmarks.md"
    if chosen.only and not chosen.put_in:
        print("\n\n".join(sections))
        return
    start = (
        page.read_text(encoding="utf-8") if chosen.only else f"{OPENING.strip()}\n\n{describe_machine()}\n"
    )
    page.write_text(put_in(start, sections), encoding="utf-8")
    print(f"Wrote {page}.")


if __name__ == "__main__":
    main()
