"""How many people: the numbers that a text may tell of a study or a claim, each named for what it is."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from evidence.appraisal.wording import count
from evidence.catalogue.queries import StudyRows
from evidence.workflows.drafts.knowledge import KnownClaim, Size
from evidence.workflows.drafts.numbers import Number, matches, replace_number
from evidence.workflows.drafts.words import load_words

if TYPE_CHECKING:
    from evidence.workflows.drafts.findings import Draught
    from evidence.workflows.drafts.readings import Reading

# What a number counts, the most likely to be meant first: a claim is told with those analysed for it.
FOR_CITED, FOR_CLAIM, ANALYSED, RECRUITED, GROUP, CONDITION, RESULT = range(7)
SHOWN = 4  # sizes of a study that a finding lists
SEXES = {"women": "female", "girls": "female", "men": "male", "boys": "male", "lads": "male"}


def sizes_of_study(rows: StudyRows) -> tuple[Size, ...]:
    """The numbers of people that a study has: all of it, its groups, its conditions, single results."""
    analysed = sum(p.analysed or p.recruited or 0 for p in rows.people)
    recruited = sum(p.recruited or 0 for p in rows.people)
    told = "analysed" if all(p.analysed for p in rows.people) else "taking part"
    found = [Size(analysed, ANALYSED, told)] if analysed else []
    found += [Size(recruited, RECRUITED, "recruited")] if recruited else []
    if len(rows.people) > 1:
        for group in rows.people:
            name = group.label or group.key
            found += [Size(group.analysed, GROUP, f"analysed, of {name}")] if group.analysed else []
            found += [Size(group.recruited, GROUP, f"recruited, of {name}")] if group.recruited else []
    held = [(c.n, c.printed or c.key) for c in rows.conditions if c.n]
    alike = len({n for n, _ in held}) == 1 and len(held) == len(rows.conditions)
    found += [Size(n, CONDITION, "in each condition" if alike else f"in {name}") for n, name in held]
    found += [Size(r.n, RESULT, f"behind a figure, {r.locator}") for r in rows.results if r.n]
    return first_names(found)


def first_names(sizes: Iterable[Size]) -> tuple[Size, ...]:
    """Each number once, by the first name it has."""
    by_value: dict[int, Size] = {}
    for size in sizes:
        by_value.setdefault(size.value, size)
    return tuple(by_value.values())


def sizes_behind(reading: "Reading") -> tuple[Size, ...]:
    """Every number of people that a sentence could be telling, in the order in which they are likely to be meant."""
    found = [size for claim in reading.claims for size in sizes_of_claim(claim, reading)]
    if len(reading.studies) > 1:
        together = sum(study.people or 0 for study in reading.studies)
        found.append(Size(together, ANALYSED, f"in the {len(reading.studies)} studies together"))
    for study in reading.studies:
        found += [Size(s.value, s.counts, f"{s.text}, {study.label}") for s in study.sizes]
    return first_names(sorted((s for s in found if s.value), key=lambda s: rank(s, reading.text)))


def sizes_of_claim(claim: KnownClaim, reading: "Reading") -> Iterator[Size]:
    """How many were analysed for a claim: in those of its studies that the sentence cites, and in all."""
    cited = [s for s in reading.cited_studies if s.key in claim.analysed]
    if cited:
        names = " and ".join(s.label for s in cited)
        yield Size(sum(claim.analysed[s.key] for s in cited), FOR_CITED, f"analysed for this claim, {names}")
    yield Size(
        claim.people, FOR_CLAIM, f"analysed for this claim, {count(len(claim.studies), 'study', 'studies')}"
    )


def rank(size: Size, text: str) -> int:
    """Where a number of people stands among those likely to be meant; what the sentence says it counts goes first."""
    said = text.lower()
    for counted, words in ((RECRUITED, "recruited"), (CONDITION, "each")):
        if size.counts == counted and any(w in said for w in load_words()["sizes"][words]):
            return -1
    return size.counts


def check_size(number: Number, reading: "Reading") -> Iterator["Draught"]:
    """A number of people that neither the claim nor any study behind the sentence has."""
    from evidence.workflows.drafts.findings import Draught

    sizes = sizes_behind(reading)
    if not sizes or any(matches(number, s.value) for s in sizes):
        return
    others = [n for n in reading.numbers if n is not number and n.kind == "people"]
    free = [s for s in sizes if not any(matches(n, s.value) for n in others)] or list(sizes)
    first = rank(free[0], reading.text)
    meant = [s for s in free if rank(s, reading.text) == first]
    sure = len(meant) == 1 and not others and is_of_the_sex(number, reading)
    yield Draught(
        "figure-differs",
        f'"{number.text}" is not what the catalogue holds.',
        f"{free[0].text}: {free[0].value} people",
        (number.start, number.end),
        figures=tuple(f"{s.value} people: {s.text}" for s in free[:SHOWN]),
        swap=replace_number(number, free[0].value) if sure else None,
        claim=next((c.key for c in reading.claims), None),
        references=tuple(reading.cited),
    )


def is_of_the_sex(number: Number, reading: "Reading") -> bool:
    """Whether those studied are of the sex that a number names: "80 women" are not all people of a mixed study."""
    sex = SEXES.get(number.text.lower().split()[-1])
    return sex is None or all(g.sex == sex for s in reading.studies for g in s.groups)
