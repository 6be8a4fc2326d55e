"""Programme snippets: every figure of every pick is right, or is asked about; what is assumed is shown.

A case has `text`, `format`, and `reading`: the picks in order. Each key of an expected pick must agree; a
key that is absent there means "not prescribed" and must not be read. `ask` lists what must be put to a
person: each needs a question that speaks of it (its quoted or leading words). `assumed` lists readings that
may be made but must be shown: each needs an assumption or a question that speaks of it, unless the reading
was not made.

A case passes when all picks agree, everything to be asked is asked, at most one question more is put, and
everything assumed is shown.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from outcome import CaseOutcome

_PLAIN = ("exercise", "sets", "reps_open", "reps_total", "side", "group", "order", "implement", "set_kind")
_SPARE_QUESTIONS = 1
_COMMON_WORDS = """
a an and as at be by each for how in is it means of on one only or own put set sets that the them they this time to
what which with x per line reps load rest number row wherever stands so say may made reading
"""
_COMMON = frozenset(_COMMON_WORDS.split())


def matches(document: Any) -> bool:
    """Whether the file is a list of programme snippets."""
    items = document.get("items") if isinstance(document, dict) else None
    return bool(items) and all(isinstance(i, dict) and {"format", "text", "reading"} <= set(i) for i in items)


def evaluate(document: Any) -> Iterable[CaseOutcome]:
    """Read each snippet and compare pick by pick."""
    from evidence.reading.programme import read_programme_text
    from evidence.vocabulary import load_vocabulary

    vocabulary = load_vocabulary()
    for case in document["items"]:
        try:
            programme = read_programme_text(case["text"], case["format"], vocabulary)
        except Exception as problem:  # one case that raises must not hide the others
            yield CaseOutcome(str(case["id"]), False, error=f"{type(problem).__name__}: {problem}")
            continue
        yield compare(case, programme)


def compare(case: dict[str, Any], programme: Any) -> CaseOutcome:
    """What differs between a snippet's right reading and the one made."""
    wrong: list[str] = []
    notes: list[str] = []
    expected, read = case["reading"], programme.picks
    if len(expected) != len(read):
        wrong.append(f"{len(expected)} picks expected, {len(read)} read: {[p.as_written for p in read]}")
    right = 0
    for want, have in zip(expected, read, strict=False):
        faults = compare_pick(want, have)
        right += not faults
        wrong += [f"{want['as_written']}: {fault}" for fault in faults]
    questions = [str(q) for q in programme.questions]
    shown = questions + [str(a) for a in programme.assumptions]
    unasked = [ask for ask in case.get("ask") or () if not any(speaks_of(ask, q) for q in questions)]
    wrong += [f"not asked: {ask}" for ask in unasked]
    wrong += [
        f"not shown: {text}"
        for text in case.get("assumed") or ()
        if not any(speaks_of(text, s) for s in shown)
    ]
    spare = [q for q in questions if not any(speaks_of(ask, q) for ask in case.get("ask") or ())]
    notes += [f"also asked: {q}" for q in spare]
    if len(spare) > _SPARE_QUESTIONS:
        wrong.append(f"{len(spare)} questions more than needed")
    return CaseOutcome(
        str(case["id"]),
        not wrong,
        tuple(wrong + notes),
        right=right,
        asked=len(questions),
        wrong=len(expected) - right,
    )


def compare_pick(want: dict[str, Any], have: Any) -> list[str]:
    """Every way in which a read pick differs from the expected one."""
    done = have.prescription
    faults = []
    if plain(want["as_written"]) != plain(have.as_written):
        faults.append(f"written as {have.as_written!r}")
    for key in _PLAIN:
        value = getattr(done, key) if hasattr(done, key) else getattr(have, key)
        if (want.get(key) or None) != (value or None):
            faults.append(f"{key}: {value!r} for {want.get(key)!r}")
    for key in ("reps", "time_s", "rest_s"):
        value = getattr(done, key)
        if listed(want.get(key)) != listed(value):
            faults.append(f"{key}: {value!r} for {want.get(key)!r}")
    if [str(p) for p in want.get("tempo") or ()] != list(done.tempo or ()):
        faults.append(f"tempo: {done.tempo!r} for {want.get('tempo')!r}")
    return faults + compare_parts(want, done)


def compare_parts(want: dict[str, Any], done: Any) -> list[str]:
    """Load and effort, part by part."""
    faults = []
    load, stated = want.get("load"), done.load
    if (load is None) != (stated is None):
        faults.append(f"load: {stated!r} for {load!r}")
    elif load is not None:
        for key in ("kind", "unit", "of", "per"):
            if load.get(key) != getattr(stated, key):
                faults.append(f"load {key}: {getattr(stated, key)!r} for {load.get(key)!r}")
        value = load.get("value")
        if value is not None and listed(value if isinstance(value, list) else [value, value]) != [
            stated.low,
            stated.high,
        ]:
            faults.append(f"load value: {stated.low!r}-{stated.high!r} for {value!r}")
    effort, felt = want.get("effort"), done.effort
    if (effort is None) != (felt is None) or (
        effort is not None
        and (effort["kind"] != felt.kind or listed(effort["value"]) != [felt.low, felt.high])
    ):
        faults.append(f"effort: {felt!r} for {effort!r}")
    return faults


def listed(value: Any) -> list[float | None]:
    return [None if v is None else float(v) for v in value] if value is not None else []


def plain(text: str) -> str:
    return " ".join(str(text).casefold().split())


def tokens(text: str) -> set[str]:
    """The words and figures that carry the meaning of a sentence."""
    found = re.findall(r"\d+(?:\.\d+)?|[^\W\d_]+", text.casefold())
    return {word.rstrip("s") if len(word) > 3 else word for word in found} - _COMMON


def speaks_of(wanted: str, said: str) -> bool:
    """Whether `said` is about the subject of `wanted`:

    what it quotes or begins with; for "line 4:" also that place.
    """
    line = re.match(r"line (\d+)\s*:", wanted)
    if line:
        return f"line {line[1]}:" in said and len(tokens(wanted) & tokens(said)) >= 2
    quoted = re.findall(r'"([^"]+)"', wanted)
    head = quoted[0] if quoted else wanted.split(":")[0] if ":" in wanted else wanted
    subject, have = tokens(head) or tokens(wanted), tokens(said)
    return len(subject & have) >= min(2 if len(subject) > 3 else 1, len(subject))
