"""Measure duplicate finding: `python tests/benchmarks/duplicates.py FOLDER [--tune] [--size N]`.

FOLDER holds two open labelled sets that are not part of this repository: DBLP-ACM (`ccer_D4_dblp.csv`,
`ccer_D4_acm.csv`, `ccer_D4_gt.csv`) and Cora (`der_cora_cora.csv`, `der_cora_cora_gt.csv`). The generated
set is made here from a fixed seed. Prints one line per set; with --tune also the best thresholds on each
set.
"""

from __future__ import annotations

import argparse
import csv
import random
import re
import resource
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from references.distance import measure_profiles
from references.duplicates import KnownRecords, find_duplicates
from references.matching import find_candidates
from references.names import Name
from references.profiles import build_profiles
from references.record import PartialDate, Record
from references.relations import Answer, Thresholds, judge

Pairs = set[tuple[str, str]]
MERGED = (Answer.SAME, Answer.LIKELY_SAME)


@dataclass(frozen=True)
class Score:
    """Counts of right, wrong and missed pairs."""

    right: int
    wrong: int
    missed: int

    @property
    def precision(self) -> float:
        return self.right / max(1, self.right + self.wrong)

    @property
    def recall(self) -> float:
        return self.right / max(1, self.right + self.missed)

    @property
    def f1(self) -> float:
        return 2 * self.right / max(1, 2 * self.right + self.wrong + self.missed)

    def __str__(self) -> str:
        return f"P {self.precision:.4f} R {self.recall:.4f} F1 {self.f1:.4f}"


def score(found: Pairs, true: Pairs) -> Score:
    right = len(found & true)
    return Score(right, len(found) - right, len(true) - right)


def ordered(pairs: Iterable[tuple[str, str]]) -> Pairs:
    return {(min(pair), max(pair)) for pair in pairs}


# --- open sets ---------------------------------------------------------------------------------------------


def full_names(text: str) -> tuple[Name, ...]:
    names = []
    for part in re.split(r",\s*|\s+and\s+", text):
        words = part.split()
        if words:
            names.append(Name(family=words[-1], given=" ".join(words[:-1]) or None))
    return tuple(names)


def read_dblp_acm(folder: Path) -> tuple[list[Record], list[Record], Pairs]:
    sides = []
    for letter, name in (("d", "ccer_D4_dblp.csv"), ("a", "ccer_D4_acm.csv")):
        with (folder / name).open(encoding="utf-8", newline="") as lines:
            rows = list(csv.DictReader(lines, delimiter="%", quoting=csv.QUOTE_NONE))
        sides.append([dblp_acm_record(letter, row) for row in rows])
    with (folder / "ccer_D4_gt.csv").open(encoding="utf-8") as lines:
        true = {(f"d{one}", f"a{other}") for one, other in list(csv.reader(lines, delimiter="%"))[1:]}
    return sides[0], sides[1], true


def dblp_acm_record(letter: str, row: dict[str, str]) -> Record:
    venue, year = row["venue"], row["year"]
    if not year and venue.isdigit():
        venue, year = "", venue  # some rows lost a column
    return Record(
        key=letter + row["id"],
        type="document",
        title=row["title"],
        author=full_names(row["authors"]),
        container_title=venue or None,
        issued=PartialDate(year=int(float(year))) if year else None,
    )


def cora_names(text: str) -> tuple[Name, ...]:
    """Cora's authors come in any order of parts; a family name is the longest word of a piece."""
    text = re.sub(r"\b(editors?|eds?|et\s+al)\b\.?", " ", text.lower())
    names = []
    for piece in re.split(r",|;|&|\band\b", text):
        words = re.findall(r"[^\W\d_]+", piece)
        long = [word for word in words if len(word) > 2]
        if long:
            initial = next((word for word in words if word != long[-1]), None)
            names.append(Name(family=long[-1], given=initial))
    return tuple(names)


def read_cora(folder: Path) -> tuple[list[Record], Pairs]:
    records = []
    with (folder / "der_cora_cora.csv").open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines, delimiter="|"):
            year = re.search(r"(?:19|20)\d\d", row["year"] or "")
            records.append(
                Record(
                    key="c" + row["Entity Id"],
                    title=row["title"] or None,
                    author=cora_names(row["author"] or ""),
                    container_title=row["venue"] or None,
                    volume=row["volume"] or None,
                    page=re.sub(r"^\D*", "", row["pages"] or "") or None,
                    issued=PartialDate(year=int(year.group())) if year else None,
                )
            )
    with (folder / "der_cora_cora_gt.csv").open(encoding="utf-8") as lines:
        true = ordered((f"c{one}", f"c{other}") for one, other in csv.reader(lines, delimiter="|"))
    return records, true


# --- generated set -----------------------------------------------------------------------------------------

_EXERCISE_TEXT = (
    "back squat;front squat;hip thrust;leg press;knee extension;leg curl;Nordic curl;calf raise;split squat;"
    "step-up;deadlift;bench press;lateral raise;pulldown;cable row;push-up;pull-up;biceps curl;lunge"
)
_OUTCOME_TEXT = (
    "muscle thickness;maximal strength;jump height;sprint time;quadriceps growth;gluteal activation;"
    "fascicle length;isometric torque;power output;range of motion;lean mass;perceived effort"
)
_PEOPLE_TEXT = (
    "trained women;trained men;older adults;adolescent athletes;rugby players;students;soldiers;nurses;"
    "recreational lifters;untrained adults;female handball players;masters runners;firefighters"
)
_FACTOR_TEXT = (
    "training volume;rest intervals;range of motion;tempo;load;frequency;exercise order;"
    "blood flow restriction;training to failure;eccentric overload;"
    "cluster sets;drop sets;velocity loss;time of day;muscle length"
)
_EXERCISES, _OUTCOMES, _PEOPLE, _FACTORS = (
    text.split(";") for text in (_EXERCISE_TEXT, _OUTCOME_TEXT, _PEOPLE_TEXT, _FACTOR_TEXT)
)
_PATTERNS = (
    "Effects of {f} in the {e} on {o} in {p}",
    "{F} and {o} after {n} weeks of {e} training in {p}: a randomised controlled trial",
    "Does {f} matter for {o}? A {n}-week study of the {e} in {p}",
    "{E} versus {e2}: {o} in {p}",
    "The influence of {f} on {o} during the {e}",
    "Association between {f} and {o} in {p}: a cohort of {n}{n} participants",
)
_JOURNALS = (
    ("Journal of Strength and Conditioning Research", "J Strength Cond Res"),
    ("Medicine & Science in Sports & Exercise", "Med Sci Sports Exerc"),
    ("European Journal of Applied Physiology", "Eur J Appl Physiol"),
    ("Scandinavian Journal of Medicine & Science in Sports", "Scand J Med Sci Sports"),
    ("Journal of Sports Sciences", "J Sports Sci"),
    ("British Journal of Sports Medicine", "Br J Sports Med"),
    ("Frontiers in Physiology", "Front Physiol"),
    ("International Journal of Sports Physiology and Performance", "Int J Sports Physiol Perform"),
)
_SYLLABLE_TEXT = "ka lo mi ran ber sto vel din ha mor tek su pa ni gro fel ast wen dor li sen tra ul bo chi"
_SYLLABLES = _SYLLABLE_TEXT.split()


def generate_records(size: int, copies: float, seed: int) -> tuple[list[Record], Pairs]:
    """`size` invented records, of which a share are damaged copies of others; and the true pairs."""
    rng = random.Random(seed)
    originals = [invent_record(rng, f"r{number}") for number in range(size - int(size * copies))]
    records, true = list(originals), []
    for number in range(int(size * copies)):
        source = rng.choice(originals)
        copied = damage_record(rng, source, f"x{number}")
        records.append(copied)
        true.append((source.key, copied.key))
    rng.shuffle(records)
    family: dict[str, list[str]] = {}
    for source_key, copy_key in true:
        family.setdefault(source_key, [source_key]).append(copy_key)
    pairs = (
        (one, other) for keys in family.values() for i, one in enumerate(keys) for other in keys[i + 1 :]
    )
    return records, ordered(pairs)


def invent_record(rng: random.Random, key: str) -> Record:
    e, e2 = rng.sample(_EXERCISES, 2)
    f = rng.choice(_FACTORS)
    title = rng.choice(_PATTERNS).format(
        e=e,
        e2=e2,
        E=e.capitalize(),
        f=f,
        F=f.capitalize(),
        o=rng.choice(_OUTCOMES),
        p=rng.choice(_PEOPLE),
        n=rng.randint(4, 24),
    )
    names = tuple(
        Name(
            family="".join(rng.choices(_SYLLABLES, k=rng.randint(2, 4))).capitalize(),
            given="".join(rng.choices(_SYLLABLES, k=2)).capitalize(),
        )
        for _ in range(rng.randint(1, 7))
    )
    first = rng.randint(1, 1800)
    year = rng.randint(1985, 2025)
    return Record(
        key=key,
        type="article-journal",
        title=title,
        author=names,
        container_title=rng.choice(_JOURNALS)[0],
        issued=PartialDate(year=year),
        volume=str(year - 1980),
        issue=str(rng.randint(1, 12)),
        page=f"{first}-{first + rng.randint(4, 14)}",
        doi=f"10.99999/inv.{key}" if rng.random() < 0.8 else None,
    )


def damage_record(rng: random.Random, source: Record, key: str) -> Record:
    """A copy as another database would have it."""
    title = source.title or ""
    if rng.random() < 0.35:
        title = title.upper() if rng.random() < 0.3 else title.title()
    if rng.random() < 0.25:
        spot = rng.randrange(len(title) - 1)
        title = title[:spot] + title[spot + 1] + title[spot] + title[spot + 2 :]
    if rng.random() < 0.15 and ": " in title:
        title = title.split(": ")[0]
    if rng.random() < 0.2:
        title = title.replace("randomised", "randomized").replace(" and ", " & ")
    names = source.author
    if rng.random() < 0.6:
        names = tuple(Name(family=name.family, given=(name.given or "?")[0]) for name in names)
    if rng.random() < 0.1 and len(names) > 3:
        names = names[:3]
    year = (source.year or 2000) + (1 if rng.random() < 0.08 else 0)
    journal = dict(_JOURNALS)[source.container_title or ""] if rng.random() < 0.5 else source.container_title
    return Record(
        key=key,
        type="article-journal",
        title=title,
        author=names,
        container_title=journal if rng.random() < 0.95 else None,
        issued=PartialDate(year=year) if rng.random() < 0.97 else None,
        volume=source.volume if rng.random() < 0.85 else None,
        page=source.page if rng.random() < 0.8 else None,
        doi=source.doi if rng.random() < 0.4 else None,
    )


# --- measurements ------------------------------------------------------------------------------------------


def linked(known: list[Record], incoming: list[Record], thresholds: Thresholds) -> Pairs:
    """Clean-clean linkage: each incoming record's best match, and each known record taken once, nearest
    first.
    """
    base = KnownRecords(known, thresholds)
    found = [found for found in base.compare_all(incoming) if found.answer in MERGED]
    found.sort(key=lambda one: one.distance.total if one.distance else 0.0)
    taken: dict[str, str] = {}
    for comparison in found:
        taken.setdefault(comparison.known_key or "", comparison.incoming_key)
    return set(taken.items())


def within(records: list[Record], thresholds: Thresholds) -> Pairs:
    report = find_duplicates(records, thresholds)
    return ordered((pair.a_key, pair.b_key) for pair in report.pairs if pair.answer in MERGED)


def sweep(records: list[Record], true: Pairs, limits: Iterable[float]) -> Iterator[tuple[float, Score]]:
    """Scores within one set over values of `likely_same`, distances measured once."""
    profiles = build_profiles(records)
    packaged = Thresholds.packaged()
    measured = [
        (profiles[i], profiles[j], measure_profiles(profiles[i], profiles[j]))
        for i, j in find_candidates(profiles)
    ]
    for limit in limits:
        chosen = Thresholds(packaged.same, limit, packaged.title_for_relation)
        found = ordered((a.key, b.key) for a, b, d in measured if judge(a, b, d, chosen).answer in MERGED)
        yield limit, score(found, true)


def measure_size(size: int) -> None:
    """Time and peak memory of one run over generated records, in this process."""
    records, true = generate_records(size, 0.22, seed=20240501)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    start = time.perf_counter()
    report = find_duplicates(records)
    seconds = time.perf_counter() - start
    found = ordered((pair.a_key, pair.b_key) for pair in report.pairs if pair.answer in MERGED)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"generated {size}: {score(found, true)}  {seconds:.1f} s  peak {peak:.0f} MB"
        f" (records alone {before:.0f} MB)  {report.compared} pairs compared"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--tune", action="store_true")
    parser.add_argument("--size", type=int, action="append", default=[])
    parser.add_argument("--only-size", type=int)
    chosen = parser.parse_args()
    if chosen.only_size:
        measure_size(chosen.only_size)
        return
    limits = [step / 50 for step in range(4, 34)]
    dblp, acm, links = read_dblp_acm(chosen.folder)
    cora, cora_true = read_cora(chosen.folder)
    packaged = Thresholds.packaged()
    print(f"DBLP-ACM, one to one: {score(linked(dblp, acm, packaged), links)}")
    sides = {record.key[0] for record in dblp + acm}
    pooled = (
        {pair for pair in within(dblp + acm, packaged) if pair[0][0] != pair[1][0]}
        if len(sides) == 2
        else set()
    )
    print(f"DBLP-ACM, pairs as found: {score(pooled, ordered(links))}")
    print(f"Cora: {score(within(cora, packaged), cora_true)}")
    if chosen.tune:
        small, small_true = generate_records(20_000, 0.22, seed=7)
        for name, records, true in (("Cora", cora, cora_true), ("generated", small, small_true)):
            results = list(sweep(records, true, limits))
            best = max(results, key=lambda result: result[1].f1)
            print(f"best on {name}: likely_same {best[0]:.2f}: {best[1]}")
            print("  " + ", ".join(f"{limit:.2f}:{s.f1:.4f}" for limit, s in results[::3]))
        for limit in limits[::3]:
            other = Thresholds(packaged.same, limit, packaged.title_for_relation)
            print(f"  DBLP-ACM one to one at {limit:.2f}: {score(linked(dblp, acm, other), links)}")
    for size in chosen.size:  # each in a process of its own, so that the peak is its own
        subprocess.run([sys.executable, __file__, str(chosen.folder), "--only-size", str(size)], check=True)


if __name__ == "__main__":
    main()
