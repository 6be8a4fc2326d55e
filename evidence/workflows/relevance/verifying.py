"""Verifying extracted figures: a second person holds each against the paper; what one person read is labelled so."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key, study_rows
from evidence.catalogue.tables import Result
from evidence.errors import BadInput, NotFound

SAME = "the same person"  # as it is kept: "Sam (the same person)"
ONE_READER = "figures read by one person"
READ_TWICE = "figures read twice by one person"


@dataclass(frozen=True, slots=True)
class Verified:
    """What became of a verification: results that are verified now, that were before, and that are still open."""

    study: str
    now: tuple[str, ...]
    before: tuple[str, ...]
    still_open: tuple[str, ...]
    by_the_reader: bool


def verify_results(
    catalogue: Catalogue,
    study: str,
    who: str,
    results: Sequence[str] = (),
    *,
    every: bool = False,
    same_person: bool = False,
) -> Verified:
    """Mark results as held against the paper by `who`. `every`: all of the study; `same_person`: the reader says so.

    Refuses a person who verifies their own reading, unless `same_person`: it is then kept and told as such, and does
    not count as a second pair of eyes. Raises NotFound for a study or result that is not there.
    """
    if not results and not every:
        raise BadInput(
            "no result is named", hint="Name results as `steelyard results show` has them, or use --all."
        )
    with catalogue.changing(who, f"results verify {study}") as session:
        rows = study_rows(session, study_by_key(session, study))
        chosen = pick_results(rows.results, results, study)
        open_ones = [r for r in chosen if not is_verified(r)]
        own = [r.key for r in open_ones if same_name(r.read_by, who)]
        if own and not same_person:
            more = f" and {len(own) - 1} more" if len(own) > 1 else ""
            raise BadInput(
                f"{who} read {own[0]}{more} out of the paper; a second person should verify it.",
                hint="Give the other person's name with --who, or --same-person-says-so: the figures are then labelled "
                f'"{READ_TWICE}".',
            )
        for row in open_ones:
            row.verified_by = f"{who} ({SAME})" if same_name(row.read_by, who) else who
    done = tuple(r.key for r in open_ones)
    before = tuple(r.key for r in chosen if r.key not in done)
    return Verified(study, done, before, tuple(r.key for r in rows.results if not is_verified(r)), bool(own))


def pick_results(rows: Sequence[Result], keys: Sequence[str], study: str) -> tuple[Result, ...]:
    """The results named by key; all where none is named. Raises NotFound naming the nearest."""
    if not keys:
        return tuple(rows)
    from evidence.catalogue.queries import nearest_keys

    by_key = {r.key: r for r in rows}
    for key in keys:
        if key not in by_key:
            near = nearest_keys(key, list(by_key))
            raise NotFound(
                f"{study} has no result {key!r}", hint=f"Nearest: {', '.join(near)}." if near else None
            )
    return tuple(by_key[key] for key in dict.fromkeys(keys))


def withdraw_verification(
    catalogue: Catalogue, study: str, who: str, results: Sequence[str] = ()
) -> Verified:
    """Take the mark off again: the figures are then read by one person only. Raises NotFound."""
    with catalogue.changing(who, f"results verify {study} --withdraw") as session:
        rows = study_rows(session, study_by_key(session, study))
        for row in pick_results(rows.results, results, study):
            row.verified_by = None
    return Verified(study, (), (), tuple(r.key for r in rows.results if not is_verified(r)), False)


def tell_outcome(done: Verified) -> list[str]:
    """What was verified, and what one person alone has read."""
    lines = []
    if done.now:
        kept = f'kept as "{READ_TWICE}": no second person has seen them' if done.by_the_reader else "verified"
        lines.append(f"{count(len(done.now))} {kept}: {', '.join(done.now)}.")
    if done.before:
        lines.append(f"{count(len(done.before))} verified before.")
    if done.still_open:
        lines.append(f"{count(len(done.still_open))} of {done.study} not verified by a second person.")
    else:
        lines.append(f"All results of {done.study} are verified by a second person.")
    return lines


def count(results: int) -> str:
    """`1 result`, `3 results`."""
    return "1 result" if results == 1 else f"{results} results"


def is_verified(result: Result) -> bool:
    """Whether somebody other than its reader held a figure against the paper."""
    return bool(result.verified_by) and SAME not in str(result.verified_by)


def same_name(one: str, other: str) -> bool:
    """Whether two names are one person's: case and spacing aside."""
    return " ".join(one.casefold().split()) == " ".join(other.casefold().split())


def tell_verified(result: Result) -> str:
    """How far a figure was verified: `read by Sam, verified by Kim`."""
    if not result.verified_by:
        return f"read by {result.read_by}; not verified by a second reader"
    if not is_verified(result):
        return f"read twice by {result.read_by}; not verified by a second reader"
    return f"read by {result.read_by}, verified by {result.verified_by}"


def label_figures(results: Iterable[Result]) -> str:
    """What has to be said of a study's figures: empty where a second person verified every one."""
    found = list(results)
    if not found or all(is_verified(r) for r in found):
        return ""
    if all(r.verified_by for r in found):
        return READ_TWICE
    open_ones = sum(not is_verified(r) for r in found)
    return ONE_READER if open_ones == len(found) else f"{open_ones} of {len(found)} {ONE_READER}"
