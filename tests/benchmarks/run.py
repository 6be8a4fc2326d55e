"""All benchmarks in one go, written as one page: `python tests/benchmarks/run.py [--only NAME] [--to FILE]`.

Needs the extra `bench`; R with metafor is used where it is installed. A module with `rows()` gives lines of the table;
any other program is run as it is and its words are kept. To add one, add a line to TABLES or PROGRAMS.
"""

import argparse
import importlib
import importlib.metadata
import os
import platform
import subprocess
import sys
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
    ("Duplicate references", "duplicates.py", (".", "--only-size", "20000")),
)
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


def run_program(title: str, file: str, arguments: tuple[str, ...]) -> str:
    """One section with what a program printed."""
    path = HERE / file
    if not path.exists():
        return f"## {title}\n\nNot measured here: `tests/benchmarks/{file}` is not there."
    done = subprocess.run(
        [sys.executable, str(path), *arguments], capture_output=True, text=True, timeout=1800
    )
    said = (
        done.stdout.strip() if done.returncode == 0 else "Not measured here: the program ended with an error."
    )
    command = f"`python tests/benchmarks/{' '.join((file, *arguments))}`, by the clock on the wall:"
    return f"## {title}\n\n{command}\n\n```text\n{said}\n```"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", action="append", default=[], help="a module or file; may be repeated")
    parser.add_argument(
        "--to", type=Path, help="file to write; left out: docs/benchmarks.md, with --only the screen"
    )
    chosen = parser.parse_args()
    parts = [OPENING, describe_machine()]
    for title, module in TABLES:
        if not chosen.only or module in chosen.only:
            parts.append(measure_table(title, module))
    for title, file, arguments in PROGRAMS:
        if not chosen.only or file.removesuffix(".py") in chosen.only:
            parts.append(run_program(title, file, arguments))
    text = "\n\n".join(part.strip() for part in parts) + "\n"
    target = chosen.to or (None if chosen.only else HERE.parents[1] / "docs" / "benchmarks.md")
    if target is None:
        print(text)
    else:
        target.write_text(text, encoding="utf-8")
        print(f"Wrote {target}.")


if __name__ == "__main__":
    main()
