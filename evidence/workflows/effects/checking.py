"""Checking a catalogue: is it whole, are its names known, and, when asked, do its printed figures fit each other."""

from dataclasses import dataclass

from evidence.catalogue import Catalogue


@dataclass(frozen=True, slots=True)
class CheckFinding:
    """Something a person can act on: how grave, where, what."""

    severity: str
    where: str
    text: str


def check_catalogue(catalogue: Catalogue, *, figures: bool = False) -> tuple[CheckFinding, ...]:
    """Check the catalogue's soundness; with `figures` also recompute what printed figures allow."""
    from evidence.catalogue.integrity import VocabularyIds, check
    from evidence.vocabulary import load_vocabulary

    shipped = load_vocabulary()
    known = VocabularyIds(
        exercises=shipped.exercises,
        regions=shipped.regions,
        constructs=shipped.constructs,
        designs=shipped.designs,
        training_statuses=shipped.training_statuses,
    )
    found = [
        CheckFinding(
            str(f.severity), " ".join(part for part in (f.table, f.key) if part) or "catalogue", f.message
        )
        for f in check(catalogue, known)
    ]
    if figures:
        from evidence.workflows.effects.figure_checks import check_figures

        found += check_figures(catalogue)
    return tuple(found)
