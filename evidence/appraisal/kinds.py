"""The kinds of claim: what each says, what it rests on, and its verdicts. Data: `rules/claim_kinds.yaml`."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from evidence.appraisal.rulebook import load_rules
from evidence.errors import BadInput
from evidence.vocabulary.terms import Direction


@dataclass(frozen=True, slots=True)
class ClaimKind:
    """One kind of claim.

    `evidence`: results (weighed and rated), backing (never above very low) or opinion (not rated). `sides`: exercises
    it must name. `terms`: what only this kind needs. `constructs`: outcomes it is bound to; empty: any.
    """

    id: str
    about: str
    evidence: str
    sides: int
    directions: tuple[Direction, ...]
    verdicts: Mapping[str, str]
    terms: tuple[str, ...] = ()
    constructs: tuple[str, ...] = ()

    @property
    def graded(self) -> bool:
        """Whether a confidence is rated: an opinion has none."""
        return self.evidence != "opinion"

    def name_verdict(self, verdict: str, **slots: object) -> str:
        """The verdict in the words of this kind."""
        return self.verdicts.get(verdict, verdict).format(**slots)


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of percent of a maximum in whole percent, both ends in it (`high` None: no upper end).

    A mean belongs to the band that its whole percent lies in, so that what is printed and what is counted agree.
    """

    name: str
    low: float
    high: float | None

    @property
    def text(self) -> str:
        """`41 to 60 %`, `61 % and more`."""
        return f"{self.low:g} % and more" if self.high is None else f"{self.low:g} to {self.high:g} %"

    @property
    def start(self) -> float:
        """The least percent that is rounded into the band."""
        return self.low - 0.5 if self.low > 0 else 0.0

    @property
    def end(self) -> float:
        """The least percent above it that is not."""
        return math.inf if self.high is None else self.high + 0.5

    def holds(self, percent: float) -> bool:
        """Whether a percent lies in the band."""
        return self.start <= percent < self.end


@cache
def load_kinds() -> Mapping[str, ClaimKind]:
    """Every kind of claim by its id."""
    return {
        name: ClaimKind(
            name,
            row["about"],
            row["evidence"],
            row["sides"],
            tuple(map(Direction, row["directions"])),
            row["verdicts"],
            tuple(row.get("terms", ())),
            tuple(row.get("constructs", ())),
        )
        for name, row in load_rules("claim_kinds")["kinds"].items()
    }


def find_kind(name: str) -> ClaimKind:
    """A kind by its id. Raises BadInput naming the kinds there are."""
    kinds = load_kinds()
    if name not in kinds:
        told = "; ".join(f"{kind.id} ({kind.about})" for kind in kinds.values())
        raise BadInput(f'No kind of claim is called "{name}".', hint=f"There are: {told}.")
    return kinds[name]


def bands_of(construct: str) -> tuple[Band, ...]:
    """The bands in common use for a construct; none where there are none."""
    rows: Sequence[Mapping[str, Any]] = load_rules("claim_kinds")["bands"].get(construct, ())
    return tuple(Band(row["name"], row["from"], row["to"]) for row in rows)


def find_band(construct: str, name: str) -> Band:
    """A band by its name. Raises BadInput naming those there are."""
    known = {band.name: band for band in bands_of(construct)}
    wanted = name.strip().lower().replace("-", " ").replace("_", " ")
    if wanted not in known:
        if not known:
            raise BadInput(
                f'No band is called "{name}": this outcome has none.', hint="Bands are of activation alone."
            )
        told = "; ".join(f"{band.name} ({band.text})" for band in known.values())
        raise BadInput(
            f'No band is called "{name}".', hint=f"There are: {told}. Or give the line with --level."
        )
    return known[wanted]


def band_caveat() -> tuple[str, str]:
    """What has to be said of bands, and where they come from."""
    bands = load_rules("claim_kinds")["bands"]
    return " ".join(bands["caveat"].split()), str(bands["source"])
