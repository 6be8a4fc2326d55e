"""Details that a claim names: only those that are known or that a study carries, with values that fit them.

What a stored claim carries already is left as it is: it is shown and weighed as before.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from evidence.catalogue import Catalogue
from evidence.catalogue.queries.details import detail_names
from evidence.catalogue.tables import Claim
from evidence.errors import BadInput
from evidence.vocabulary.details import Detail, fold_name, load_details

LIST = "All of them: steelyard claim details"


@dataclass(frozen=True, slots=True)
class KnownDetail:
    """A detail that a claim may name. `studies`: how many conditions in the catalogue carry it."""

    name: str
    holds: str
    about: str
    carried: int


def known_details(catalogue: Catalogue) -> tuple[KnownDetail, ...]:
    """The details that are known by name, then others that conditions in the catalogue carry."""
    with catalogue.reading() as session:
        carried = detail_names(session)
    listed = load_details()
    rows = [KnownDetail(d.name, d.told, d.about, carried.get(d.name, 0)) for d in listed.values()]
    own = [
        KnownDetail(name, "as studies write it", "carried by studies", count)
        for name, count in sorted(carried.items())
        if name not in listed
    ]
    return (*rows, *own)


def require_details(claim: Claim, catalogue: Catalogue, former: Claim | None = None) -> None:
    """Refuse details that nothing is known of, and values that do not fit. Raises BadInput with the nearest names.

    `former`: the claim as it is stored; what it carries already is not asked again.
    """
    sides = (
        ("--detail", claim.exercise_details, former.exercise_details if former else {}),
        ("--over-detail", claim.comparator_details, former.comparator_details if former else {}),
    )
    new = [
        (option, name, str(value))
        for option, details, had in sides
        for name, value in details.items()
        if had.get(name) != value
    ]
    graded = claim.terms.get("detail")
    asks_graded = graded is not None and not (former and former.terms.get("detail") == graded)
    if not new and not asks_graded:
        return
    with catalogue.reading() as session:
        carried = detail_names(session)
    for option, name, value in new:
        known = find_detail(option, name, carried)
        if known is not None and not known.fits(value):
            raise BadInput(f'{option} {name}="{value}": {name} ({known.about}) is {known.told}.', hint=LIST)
    if asks_graded:
        known = find_detail("--graded", str(graded), carried)
        if known is not None and not known.number and str(graded) not in carried:
            raise BadInput(
                f'--graded {graded}: {graded} holds words ("{known.example}"), which have no order to rise in.',
                hint=f"Name a detail that holds numbers. {LIST}",
            )


def find_detail(option: str, name: str, carried: Mapping[str, int]) -> Detail | None:
    """A known detail; None where only studies carry it, with values of their own. Raises BadInput for any other."""
    listed = load_details()
    if name in listed:
        return listed[name]
    if name in carried:
        return None
    near = nearest_names(name, {*listed, *carried})
    told = f"Nearest: {', '.join(near)}. {LIST}" if near else LIST
    raise BadInput(f'{option}: no detail is called "{name}", and no study carries it.', hint=told)


def nearest_names(name: str, known: Collection[str]) -> list[str]:
    """Names that come near: by spelling, or that hold one of its words."""
    folded = fold_name(name)
    words = {word for word in folded.split("_") if len(word) > 2}
    close = get_close_matches(folded, sorted(known), n=4, cutoff=0.6)
    holding = [k for k in sorted(known) if words & set(k.split("_")) and k not in close]
    return [*close, *holding][:6]


def fold_details(details: Mapping[str, str], carried: Collection[str] = ()) -> dict[str, str]:
    """Details with names as they are kept, where they were written another way: `Knee angle deg`."""
    listed = load_details()
    return {
        (name if name in carried or fold_name(name) not in listed else fold_name(name)): value
        for name, value in details.items()
    }
