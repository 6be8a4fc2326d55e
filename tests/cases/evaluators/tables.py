"""Pasted tables: every cell is right, asked, or wrong in silence. A case passes with none wrong, >= 85 % right.

A case has `raw` (the paste) and `expect.cells`. For each expected cell the read cell *at the same place in the
table* is sought: row, column, group and time point, by their labels. Labels are compared without case, spacing,
punctuation, units in brackets and words that only name the statistic ("mean", "SD", "P"); all else must agree.

right   one read cell stands there without doubt, and every figure, the kind of statistic, the kind of spread,
        n, p and marks agree.
asked   the read cell there carries a doubt with at least two candidate readings, whether or not its first
        reading agrees; or its kind of spread is left open, with a question that names it; or no cell stands
        there and the reading says so (refused, or the line is listed as unread).
wrong   anything else: a figure, kind, group, time point, n or mark that differs; the figure put in another row
        or column; a cell left out without a word; two undoubted cells claiming one place.

Cells that were read but are not listed: wrong when their text is not in the paste, when two of them stand on one
piece of text, or when the case says `complete: true` (every cell is listed) and they carry no doubt.
`column_uncertain: true`: the cell must be asked, so it counts as right when asked and as wrong when not.
`refused: true`: the table must be refused.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Any

from outcome import CaseOutcome

RIGHT_SHARE = 0.85

_STATISTIC_WORDS = frozenset(
    [
        "mean",
        "means",
        "m",
        "sd",
        "se",
        "sem",
        "dp",
        "±",
        "+",
        "median",
        "iqr",
        "ci",
        "95",
        "90",
        "99",
        "%",
        "p",
        "value",
        "values",
        "pvalue",
        "average",
        "and",
    ]
)
_KINDS = {
    "mean": {"mean"},
    "median": {"median"},
    "percent_change": {"percent_change"},
    "effect_size": {"smd"},
    "change": {"change"},
    "difference": {"difference"},
    "effect": {"change", "difference", "smd", "ratio", "percent_points"},
    "count": {"count"},
    "ratio": {"ratio"},
    "correlation": {"correlation"},
}


def matches(document: Any) -> bool:
    """Whether the file is a list of pasted tables."""
    cases = document.get("cases") if isinstance(document, dict) else document
    return bool(
        isinstance(cases, list)
        and cases
        and all(isinstance(c, dict) and "raw" in c and isinstance(c.get("expect"), dict) for c in cases)
        and any("cells" in c["expect"] or "refused" in c["expect"] for c in cases)
    )


def evaluate(document: Any) -> Iterable[CaseOutcome]:
    """Read each paste with no answers given and compare cell by cell."""
    from evidence.reading.pasted import read_table

    for case in document["cases"] if isinstance(document, dict) else document:
        try:
            reading = read_table(case["raw"])
        except Exception as problem:  # one case that raises must not hide the others
            count = len(case["expect"].get("cells", ())) or 1
            yield CaseOutcome(
                str(case["id"]), False, wrong=count, error=f"{type(problem).__name__}: {problem}"
            )
            continue
        yield compare(case, reading)


def compare(case: dict[str, Any], reading: Any) -> CaseOutcome:
    """Count one case."""
    expect = case["expect"]
    if expect.get("refused"):
        if reading.refused:
            return CaseOutcome(str(case["id"]), True, (f"refused: {reading.refused}",))
        return CaseOutcome(
            str(case["id"]), False, ("was read, should be refused",), wrong=len(reading.cells) or 1
        )
    verdicts: list[str] = []
    differences: list[str] = []
    used: set[int] = set()
    for expected in expect["cells"]:
        verdict, why, taken = judge(expected, reading)
        used.update(taken)
        verdicts.append(verdict)
        if why:
            differences.append(f"{verdict}: {describe(expected)}: {why}")
    for verdict, why in judge_unlisted(case, reading, used):
        if verdict:
            verdicts.append(verdict)
        differences.append(why)
    right, asked, wrong = (verdicts.count(word) for word in ("right", "asked", "wrong"))
    listed = len(expect["cells"])
    passed = wrong == 0 and listed > 0 and right >= RIGHT_SHARE * listed
    return CaseOutcome(str(case["id"]), passed, tuple(differences), right, asked, wrong)


def describe(expected: dict[str, Any]) -> str:
    place = " | ".join(str(expected[k]) for k in ("row", "group", "column", "timepoint") if k in expected)
    return f"[{place}] {expected.get('token', '')!r}"


def judge(expected: dict[str, Any], reading: Any) -> tuple[str, str, list[int]]:
    """The verdict on one expected cell, the difference in words, and which read cells were taken for it."""
    if ";" in str(expected["column"]):
        return judge_span(expected, reading)
    found = find_place(expected, reading.cells)
    if not found:
        return judge_absent(expected, reading)
    if len(found) > 1:
        silent = [i for i in found if not reading.cells[i].doubts]
        verdict = "wrong" if silent else "asked"
        return verdict, f"{len(found)} read cells claim this place", found
    cell = reading.cells[found[0]]
    faults = compare_cell(expected, cell)
    if cell.doubts:
        asks = all(len(doubt.candidates) >= 2 for doubt in cell.doubts)
        text = "; ".join(doubt.text for doubt in cell.doubts)
        if expected.get("column_uncertain") and asks:
            return "right", "", found
        return ("asked", text, found) if asks else ("wrong", f"a doubt without candidates: {text}", found)
    if asked_once(expected, cell, faults, reading):
        return "asked", "the kind of spread is asked once for the paste", found
    if expected.get("column_uncertain"):
        return "wrong", "must be asked, was read without doubt", found
    return ("wrong", "; ".join(faults), found) if faults else ("right", "", found)


def asked_once(expected: dict[str, Any], cell: Any, faults: list[str], reading: Any) -> bool:
    """Whether all that differs is a spread left open, with a question that names its kinds and this cell."""
    open_spread = (
        len(faults) == 1 and faults[0].startswith("spread kind") and cell.spread_kind.value == "not stated"
    )
    return open_spread and any(cell.id in q.cells and "SD" in q.candidates for q in reading.questions)


def judge_span(expected: dict[str, Any], reading: Any) -> tuple[str, str, list[int]]:
    """One text over several columns ("A; B; C"): each must be read as missing."""
    taken: list[int] = []
    verdicts = []
    for column in str(expected["column"]).split(";"):
        verdict, why, found = judge({**expected, "column": column.strip()}, reading)
        verdicts.append((verdict, why))
        taken += found
    worst = min(verdicts, key=lambda pair: ["wrong", "asked", "right"].index(pair[0]))
    return worst[0], worst[1], taken


def judge_absent(expected: dict[str, Any], reading: Any) -> tuple[str, str, list[int]]:
    """No cell stands at the expected place: misplaced, said to be unread, or left out."""
    if reading.refused:
        return "asked", f"refused: {reading.refused}", []
    token = squeeze(str(expected.get("token", "")))
    same = [i for i, cell in enumerate(reading.cells) if not compare_cell(expected, cell)]
    printed = [i for i in same if squeeze(cell_text(reading.cells[i])) == token] or same
    if printed:
        cell = reading.cells[printed[0]]
        where = f"read at [{cell.row} | {cell.group} | {cell.column} | {cell.timepoint}]"
        if all(reading.cells[i].doubts for i in printed):
            return "asked", where, []
        return "wrong", where, []
    if token and any(token in squeeze(line) for line in reading.unread):
        return "asked", "its line is listed as unread", []
    return "wrong", "not read, and nothing said", []


def judge_unlisted(case: dict[str, Any], reading: Any, used: set[int]) -> Iterable[tuple[str, str]]:
    """Read cells no expected cell stands for."""
    raw = squeeze(case["raw"])
    places: dict[tuple[int, int], int] = {}
    for number, cell in enumerate(reading.cells):
        other = places.setdefault(cell.position, number)
        text = f"[{cell.row} | {cell.group} | {cell.column}] {cell.printed!r}"
        if other != number and not (cell.doubts and reading.cells[other].doubts) and cell.missing is None:
            yield "wrong", f"wrong: two cells on one piece of text: {text}"
        if number in used:
            continue
        if squeeze(cell.printed) not in raw:
            yield "wrong", f"wrong: not in the paste: {text}"
        elif case["expect"].get("complete") and not cell.doubts:
            yield "wrong", f"wrong: a cell the table does not have: {text}"
        else:
            yield "", f"unlisted{' (doubtful)' if cell.doubts else ''}: {text}"


# --- places -----------------------------------------------------------------------------------------------


def squeeze(text: str) -> str:
    """Text without spaces, column rules and tags, for finding a token in the paste."""
    text = re.sub(r"</?\w+[^>]*>", "", text)
    for name, char in (
        ("&nbsp;", " "),
        ("&plusmn;", "±"),
        ("&#177;", "±"),
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&amp;", "&"),
    ):
        text = text.replace(name, char)
    return re.sub(r"[\s|]+", "", text)


def words(label: str | None) -> list[str]:
    """A label as comparable words: no case, no punctuation, no unit in brackets, one kind of dash."""
    text = unicodedata.normalize("NFKC", str(label or "")).casefold()
    text = (
        re.sub(r"[\u2010-\u2015\u2212]", "-", text)
        .replace("×", " x ")
        .replace("Δ", " delta ")
        .replace("δ", " delta ")
    )
    return re.findall(r"[^\W_]+|[%±°<>+]", text)


def bare(label: str | None) -> list[str]:
    """The words of a label without brackets that hold a unit or n."""
    return words(re.sub(r"\([^()]*\)|\[[^\[\]]*\]", " ", str(label or ""))) or words(label)


def row_agrees(expected: dict[str, Any], cell: Any) -> bool:
    stated = [cell.row, f"{cell.section or ''} / {cell.row}"]
    if any(words(expected["row"]) == words(text) for text in stated):
        return True
    outcome, _, last = str(expected["row"]).rpartition(" / ")
    if outcome and words(outcome) == words(cell.row) and row_is_told_otherwise(last, cell):
        return True
    return any(bare(expected["row"]) == bare(text) for text in stated) and units_agree(expected["row"], cell)


def row_is_told_otherwise(label: str, cell: Any) -> bool:
    """A row "Pre" or "Change (%)" under an outcome may be told by the time point or by the kind of figure."""
    if cell.timepoint is not None:
        return words(label) == words(cell.timepoint)
    return not set(words(label)) - {"change", "%", "difference"}


def units_agree(label: str, cell: Any) -> bool:
    """A unit is compared only when both sides state one."""
    printed = re.findall(r"\(([^()]*)\)", label)
    own = re.findall(r"\(([^()]*)\)", cell.row) + ([cell.unit] if cell.unit else [])
    return not printed or not own or words(printed[-1]) in [words(text) for text in own]


def column_distance(label: str, cell: Any) -> int | None:
    """Words the read column has beyond the expected ones; None when an expected word is not in it."""
    wanted, have = words(label), words(cell.column)
    if wanted == have:
        return 0
    core = [w for w in wanted if w not in _STATISTIC_WORDS] or wanted
    rest = list(have)
    for word in core:
        if word not in rest:
            return None
        rest.remove(word)
    return 1 + len([w for w in rest if w not in _STATISTIC_WORDS])


def named_agree(wanted: str | None, stated: str | None, elsewhere: Sequence[str]) -> bool:
    """Whether a group or time point is the one wanted; one that is not asked for must be a label of the place."""
    if wanted is None:
        return stated is None or any(contains(text, stated) for text in elsewhere)
    if stated is None:
        return False
    return bare(wanted) == bare(stated) or words(wanted) == words(stated) or contains(stated, wanted)


def contains(text: str, part: str) -> bool:
    """Whether the words of `part` stand in a row in `text`."""
    have, want = words(text), bare(part)
    return any(have[i : i + len(want)] == want for i in range(len(have) - len(want) + 1))


def find_place(expected: dict[str, Any], cells: Sequence[Any]) -> list[int]:
    """The read cells that claim the expected place; more than one when their labels do not tell them apart."""
    labels = [str(expected["row"]), str(expected["column"])]
    ranked: dict[int, list[int]] = {}
    for number, cell in enumerate(cells):
        if not row_agrees(expected, cell) or not kind_can_be(expected, cell):
            continue
        distance = column_distance(str(expected["column"]), cell)
        if distance is None or not group_agrees(expected, cell, labels):
            continue
        if not named_agree(expected.get("timepoint"), cell.timepoint, labels):
            continue
        ranked.setdefault(distance, []).append(number)
    return ranked[min(ranked)] if ranked else []


def group_agrees(expected: dict[str, Any], cell: Any, labels: Sequence[str]) -> bool:
    if expected.get("spans"):
        return cell.group is None or cell.group in expected["spans"]
    return named_agree(expected.get("group"), cell.group, labels)


def kind_can_be(expected: dict[str, Any], cell: Any) -> bool:
    """A p-value is not sought among means, nor a mean among p-values; all else is left to the comparison."""
    if cell.missing is not None:
        return True
    return ("p" in expected) == (cell.p is not None and cell.value is None)


# --- figures ----------------------------------------------------------------------------------------------


def cell_text(cell: Any) -> str:
    return str(cell.printed)


def same_number(wanted: Any, stated: Any) -> bool:
    if wanted is None or stated is None:
        return wanted is None and stated is None
    return abs(float(wanted) - float(stated)) <= 1e-9 * max(1.0, abs(float(wanted)))


def compare_cell(expected: dict[str, Any], cell: Any) -> list[str]:
    """Every way in which a read cell differs from the expected one."""
    faults: list[str] = []
    if expected.get("missing") is not None or ("p" in expected and expected["p"] is None):
        if cell.missing is None or cell.value is not None or cell.p is not None:
            faults.append(f"should be missing, read {cell.value} {cell.p}")
        return faults
    if cell.missing is not None:
        return [f"read as missing ({cell.missing})"]
    for key, kinds in _KINDS.items():
        if key in expected:
            if not same_number(expected[key], cell.value):
                faults.append(f"{key} {expected[key]} read as {cell.value}")
            if cell.value_kind is None or cell.value_kind.value not in kinds:
                faults.append(f"{key} read as a {cell.value_kind}")
    if "spread" in expected and not same_number(expected["spread"], cell.spread):
        faults.append(f"spread {expected['spread']} read as {cell.spread}")
    if "spread" not in expected and "mean" in expected and "ci" not in expected and cell.spread is not None:
        faults.append(f"has no spread, read {cell.spread}")
    if "spread_kind" in expected and cell.spread_kind.value != expected["spread_kind"]:
        faults.append(f"spread kind {expected['spread_kind']} read as {cell.spread_kind.value}")
    faults += compare_intervals(expected, cell) + compare_rest(expected, cell)
    return faults


def compare_intervals(expected: dict[str, Any], cell: Any) -> list[str]:
    faults = []
    kinds = {"ci": "CI", "iqr": "IQR", "range": "range", "ci_of_change": "CI", "interval": "not stated"}
    for key, kind in kinds.items():
        if expected.get(key) is None:
            continue
        low, high = expected[key]
        if not (same_number(low, cell.low) and same_number(high, cell.high)):
            faults.append(f"{key} {low} to {high} read as {cell.low} to {cell.high}")
        stated = cell.interval_kind if cell.interval_kind is not None else cell.spread_kind
        if stated.value != kind:
            faults.append(f"{key} read as {cell.spread_kind.value}")
        other = cell.interval_of is not None and cell.interval_of != cell.value_kind
        if other != (key == "ci_of_change") or (other and cell.interval_of.value != "change"):
            faults.append(f"{key} read as the interval of {cell.interval_of}")
    if not any(k in expected for k in kinds) and cell.low is not None:
        faults.append(f"has no interval, read {cell.low} to {cell.high}")
    if "ci_level" in expected and not same_number(expected["ci_level"], cell.level):
        faults.append(f"level {expected['ci_level']} read as {cell.level}")
    return faults


def compare_rest(expected: dict[str, Any], cell: Any) -> list[str]:
    faults = []
    if "p" in expected and plain_p(expected["p"]) != plain_p(cell.p):
        faults.append(f"p {expected['p']} read as {cell.p}")
    if ("n" in expected or "mean" in expected or "median" in expected) and expected.get("n") != cell.n:
        faults.append(f"n {expected.get('n')} read as {cell.n}")
    if "studies" in expected and expected["studies"] != cell.studies:
        faults.append(f"studies {expected['studies']} read as {cell.studies}")
    if "label" in expected and expected["label"] != cell.word:
        faults.append(f"word {expected['label']!r} read as {cell.word!r}")
    if "marks" in expected:
        wanted = [m for m in expected["marks"] if not m.endswith("?")]
        unsure = len(expected["marks"]) - len(wanted)
        if unsure == 0 and list(cell.marks) != wanted:
            faults.append(f"marks {expected['marks']} read as {list(cell.marks)}")
        if unsure and not cell.doubts:
            faults.append(f"mark {expected['marks']} read without doubt as {list(cell.marks)}")
    elif any(mark not in str(expected.get("token", "")) for mark in cell.marks):
        faults.append(f"has no marks, read {list(cell.marks)}")
    return faults


def plain_p(text: Any) -> str:
    """p as an operator and a number, or a word."""
    plain = re.sub(r"[\s\\]", "", str(text)).casefold().removeprefix("p").lstrip("=")
    found = re.fullmatch(r"([<>≤≥]?)(\d*[.,]\d+|\d+)", plain)
    return f"{found[1]}{float(found[2].replace(',', '.'))}" if found else plain
