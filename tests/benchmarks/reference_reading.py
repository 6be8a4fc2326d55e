"""Measure readers: `python tests/benchmarks/reference_reading.py FOLDER` on any folder of bibliographic files.

For each file: records, problems, records a second (processor time, best of three); for BibTeX also what bibtexparser
alone takes to split the same text without reading names, dates, accents or macros, and how many entries it gives. Last,
the time of matching one mention over generated catalogues of growing size.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from duplicates import generate_records

from references.errors import Unreadable
from references.mentions import build_index, match_in_index
from references.reading import read_path

MENTIONS = (
    "Kalomi and colleagues on hip thrust and muscle thickness in trained women",
    "the 2017 velocity loss study in the strength journal",
    "rest intervals and jump height in rugby players, twenty twelve",
    "we train the back squat twice a week",
)


def fastest(work: Callable[[], Any]) -> tuple[float, Any]:
    """The least processor time of three runs, and the result."""
    times = []
    for _ in range(3):
        start = time.process_time()
        result = work()
        times.append(time.process_time() - start)
    return max(min(times), 1e-6), result


def split_alone(path: Path) -> int:
    import bibtexparser

    return len(bibtexparser.parse_string(path.read_text("utf-8", "replace"), parse_stack=[]).entries)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    for path in sorted(parser.parse_args().folder.iterdir()):
        try:
            seconds, report = fastest(lambda path=path: read_path(path))  # type: ignore[misc]
        except (Unreadable, OSError):
            continue
        read, unread = len(report.records), len(report.unread)
        line = f"{path.name}: {read} records, {unread} kept as text, {read / seconds:.0f}/s"
        if report.format == "bibtex":
            alone, entries = fastest(lambda path=path: split_alone(path))  # type: ignore[misc]
            line += f"; bibtexparser alone {entries} entries, {entries / alone:.0f}/s"
        print(line, flush=True)
    for size in (1_000, 10_000, 50_000):
        records, _ = generate_records(size, 0.0, seed=3)
        start = time.process_time()
        index = build_index(records)
        built = time.process_time() - start
        times = [fastest(lambda text=text, index=index: match_in_index(text, index))[0] for text in MENTIONS]  # type: ignore[misc]
        print(
            f"{size} records: index {built:.1f} s; a mention {min(times) * 1e3:.1f} to {max(times) * 1e3:.1f} ms",
            flush=True,
        )


if __name__ == "__main__":
    main()
