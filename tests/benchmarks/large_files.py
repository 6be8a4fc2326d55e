"""Measure `refs add` of large files: `python tests/benchmarks/large_files.py [--megabytes 500] [--format FORM]`.

Writes a file of invented records (fixed seed, a tenth of them damaged copies), adds it to an empty catalogue, then adds
2 MB more to the full one. Prints records, seconds and peak memory of the process that added.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

WORD_TEXT = (
    "squat hinge press curl raise lunge row load volume tempo rest effort depth growth strength thickness torque speed "
    "jump sprint women men adults lifters students runners weeks sets trial session angle stance width grip range knee "
    "hip ankle thigh calf trunk glute quadriceps hamstring training detraining velocity fatigue failure reserve"
)
SYLLABLE_TEXT = "ka lo mi ran ber sto vel din ha mor tek su pa ni gro fel ast wen dor li"
WORDS, SYLLABLES = WORD_TEXT.split(), SYLLABLE_TEXT.split()


def name(rng: random.Random) -> str:
    return "".join(rng.choices(SYLLABLES, k=rng.randint(2, 4))).capitalize()


def invent(rng: random.Random, number: int) -> dict[str, str]:
    title = " ".join(rng.choices(WORDS, k=rng.randint(6, 14))).capitalize()
    return {
        "key": f"inv{number}",
        "title": f"[Invented] {title}",
        "authors": "; ".join(f"{name(rng)}, {name(rng)}" for _ in range(rng.randint(1, 6))),
        "journal": f"Invented Journal of {rng.choice(WORDS).capitalize()}",
        "year": str(rng.randint(1985, 2025)),
        "volume": str(rng.randint(1, 60)),
        "page": str(rng.randint(1, 1500)),
        "doi": f"10.5555/inv.{number}",
        "abstract": " ".join(rng.choices(WORDS, k=rng.randint(100, 220))),
    }


def stream(size: int, seed: int, first: int = 0) -> Iterator[dict[str, str]]:
    """Invented records of about `size` bytes, a tenth of them damaged copies of earlier ones."""
    rng = random.Random(seed)
    recent: list[dict[str, str]] = []
    written = number = 0
    while written < size:
        if recent and rng.random() < 0.1:
            item = rng.choice(recent) | {"key": f"copy{first + number}", "doi": ""}
            item["title"] = (
                item["title"].replace(" and ", " & ").upper() if rng.random() < 0.5 else item["title"]
            )
        else:
            item = invent(rng, first + number)
            recent = [*recent[-200:], item]
        number += 1
        written += sum(len(value) for value in item.values()) + 120
        yield item


def write(path: Path, items: Iterator[dict[str, str]]) -> int:
    count = 0
    with path.open("w", encoding="utf-8") as file:
        if path.suffix == ".json":
            file.write("[")
        for count, item in enumerate(items, 1):
            file.write((",\n" if count > 1 and path.suffix == ".json" else "") + FORMS[path.suffix](item))
        if path.suffix == ".json":
            file.write("]\n")
    return count


def as_bib(item: dict[str, str]) -> str:
    doi = f"  doi = {{{item['doi']}}},\n" if item["doi"] else ""
    return (
        f"@article{{{item['key']},\n  title = {{{item['title'].replace('&', chr(92) + '&')}}},\n"
        f"  author = {{{item['authors'].replace('; ', ' and ')}}},\n  journal = {{{item['journal']}}},\n"
        f"  year = {{{item['year']}}},\n  volume = {{{item['volume']}}},\n  pages = {{{item['page']}}},\n{doi}"
        f"  abstract = {{{item['abstract']}}}\n}}\n\n"
    )


def as_ris(item: dict[str, str]) -> str:
    authors = "".join(f"AU  - {one}\n" for one in item["authors"].split("; "))
    doi = f"DO  - {item['doi']}\n" if item["doi"] else ""
    return (
        f"TY  - JOUR\nID  - {item['key']}\nTI  - {item['title']}\n{authors}"
        f"JO  - {item['journal']}\nPY  - {item['year']}\n"
        f"VL  - {item['volume']}\nSP  - {item['page']}\n{doi}AB  - {item['abstract']}\nER  - \n\n"
    )


def as_json(item: dict[str, str]) -> str:
    authors = [
        dict(zip(("family", "given"), one.split(", "), strict=True)) for one in item["authors"].split("; ")
    ]
    return json.dumps(
        {
            "id": item["key"],
            "type": "article-journal",
            "title": item["title"],
            "author": authors,
            "container-title": item["journal"],
            "issued": {"date-parts": [[int(item["year"])]]},
            "volume": item["volume"],
            "page": item["page"],
            "abstract": item["abstract"],
        }
        | ({"DOI": item["doi"]} if item["doi"] else {})
    )


FORMS = {".bib": as_bib, ".ris": as_ris, ".json": as_json}


def add(folder: Path, file: Path) -> None:
    """Add a file in a process of its own, so that the peak is its own."""
    subprocess.run([sys.executable, __file__, "--add", str(folder), str(file)], check=True)


def add_here(folder: Path, file: Path) -> None:
    from evidence.workflows.gather.gathering import gather
    from evidence.workflows.opening import open_named

    with open_named(str(folder / "catalogue.sqlite"), os.environ) as catalogue:
        start, cpu = time.perf_counter(), time.process_time()
        report = gather(catalogue, file, "Benchmark")
        seconds, cpu = time.perf_counter() - start, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{file.name} ({file.stat().st_size / 1e6:.0f} MB): {report.read} read, {len(report.added)} added, "
        f"{len(report.known)} known, {len(report.likely)} to compare, {len(report.problems)} problems; {seconds:.0f} s "
        f"({cpu:.0f} s of one processor), {report.read / max(cpu, 1e-9):.0f} records/s, peak {peak:.0f} MB",
        flush=True,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megabytes", type=int, default=500)
    parser.add_argument("--format", choices=("bib", "ris", "json"), default="bib")
    parser.add_argument("--add", nargs=2, type=Path)
    chosen = parser.parse_args()
    if chosen.add:
        add_here(*chosen.add)
        return
    from evidence.workflows.opening import create_named

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        create_named(str(folder / "catalogue.sqlite"), os.environ)
        big, small = folder / f"big.{chosen.format}", folder / f"small.{chosen.format}"
        write(big, stream(chosen.megabytes * 1_000_000, seed=1))
        write(small, stream(2_000_000, seed=2, first=10_000_000))
        add(folder, big)
        add(folder, small)
        print(f"catalogue: {(folder / 'catalogue.sqlite').stat().st_size / 1e6:.0f} MB")


if __name__ == "__main__":
    main()
