"""A study's design as lists and pages tell it: in a few plain words, with who did what."""

from evidence.vocabulary import Vocabulary

DID = {"within": "the same people did all of it", "between": "different people did each"}


def tell_design(design: str, pairing: str, vocabulary: Vocabulary) -> str:
    """The design in a few words and who did what: "randomised groups; different people did each"."""
    known = vocabulary.designs.get(design)
    short = known.short if known else design.replace("_", " ")
    return "; ".join(part for part in (short, DID.get(pairing, "")) if part)
