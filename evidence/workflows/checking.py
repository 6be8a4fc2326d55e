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
    from evidence.catalogue.integrity import check
    from evidence.workflows.opening import vocabulary_of

    vocabulary = vocabulary_of(catalogue)
    known = {
        "exercise": set(vocabulary.exercises),
        "region": set(vocabulary.regions),
        "construct": set(vocabulary.constructs),
        "design": set(vocabulary.designs),
        "normalisation": set(vocabulary.normalisations),
    }
    found = [CheckFinding(f.severity, f.where, f.text) for f in check(catalogue, known)]
    if figures:
        from evidence.workflows.figure_checks import check_figures

        found += check_figures(catalogue)
    return tuple(found)
