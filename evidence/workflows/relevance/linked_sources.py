"""Sources that people linked to a claim: what each says, whether it counts as evidence, and why not where it does not.

They are never pooled. Where nothing pools, studies and reviews among them count by stance (`appraisal.narrative`).
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from evidence.appraisal.narrative import Linked
from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import ClaimLink, Reference
from evidence.publishing.panels import Panel
from evidence.vocabulary import Vocabulary
from references.citing import short_citation
from references.record import Record

RETRACTED = ("retracted", "withdrawn or removed")
STANCES = {"supports": "for", "against": "against", "mixed": "for and against", "background": "background"}
KINDS = ("study", "review", "guideline", "expert", "other")
BACKING = {"guideline": "a guideline is backing", "expert": "opinion is backing", "other": "backing"}


@dataclass(frozen=True, slots=True)
class LinkedSource:
    """One linked source. `counts`: as evidence where nothing pools; `why_not`: why it does not, empty where it does."""

    key: str
    label: str
    stance: str
    kind: str
    locator: str
    said: str
    n: int | None
    design: str
    person: str
    date: str
    notice: str
    why_not: str
    told: tuple[str, ...]

    @property
    def counts(self) -> bool:
        """Whether it counts as evidence where nothing can be pooled."""
        return not self.why_not

    def line(self) -> str:
        """`Bramble 2011 (review, n 120), against, p. 4: "..."`, with what has to be said of it."""
        parts = [
            self.kind,
            *([f"n {self.n}"] if self.n is not None else []),
            *([self.design] if self.design else []),
        ]
        notice = f" [{self.notice.upper()}]" if self.notice else ""
        where = f", {self.locator}" if self.locator else ""
        told = f" ({'; '.join(self.told)})" if self.told else ""
        return f"{STANCES[self.stance]}: {self.label}{notice} ({', '.join(parts)}){where}: {self.said}{told}"


def read_links(
    links: Sequence[tuple[ClaimLink, Reference]], rows: Iterable[StudyRows], weighed: Collection[str]
) -> tuple[LinkedSource, ...]:
    """Linked sources with what has to be said of each. `rows`: studies that may bear on the claim; `weighed`: keys."""
    reports: dict[int | None, list[StudyRows]] = {}
    samples: dict[str, str] = {}
    for study in rows:
        for reference in study.references:
            reports.setdefault(reference.id, []).append(study)
        if study.study.sample and study.study.key in weighed:
            samples[study.study.sample] = study.study.key
    seen: dict[int | None, ClaimLink] = {}
    found = []
    for link, reference in links:
        why, told = judge_link(link, reference, reports.get(reference.id, []), weighed, samples, seen)
        seen.setdefault(reference.id, link)
        found.append(
            LinkedSource(
                reference.key,
                short_citation(Record.from_csl(reference.csl)),
                link.stance,
                link.kind,
                link.locator,
                link.said,
                link.n,
                link.design or "",
                link.person,
                link.at.date().isoformat(),
                reference.notice or "",
                why,
                told,
            )
        )
    return tuple(found)


def judge_link(
    link: ClaimLink,
    reference: Reference,
    reported: Sequence[StudyRows],
    weighed: Collection[str],
    samples: dict[str, str],
    seen: dict[int | None, ClaimLink],
) -> tuple[str, tuple[str, ...]]:
    """Why a source does not count as evidence (empty where it does), and what has to be said of it."""
    pooled = [s.study.key for s in reported if s.study.key in weighed]
    same = [
        samples[s.study.sample] for s in reported if s.study.sample in samples and s.study.key not in weighed
    ]
    reasons = []
    if reference.notice in RETRACTED:
        reasons.append(f"{reference.notice}: it does not count")
    if pooled:
        reasons.append(f"it reports {', '.join(pooled)}, weighed by its figures: not counted twice")
    elif same:
        reasons.append(f"the same people as {', '.join(same)}: not counted twice")
    if reference.id in seen:
        differ = seen[reference.id].stance != link.stance
        reasons.append(
            "linked above with another stance: counted once" if differ else "linked above: counted once"
        )
    said = list(reasons)
    if link.kind in BACKING:
        reasons.append(f"{BACKING[link.kind]}, not evidence of an effect")
        said.append(reasons[-1])
    elif link.stance == "background":
        reasons.append("background")
    if link.kind == "review" and weighed and not pooled:
        said.append("it may cover studies that are weighed here")
    if reference.notice and reference.notice not in RETRACTED:
        said.append(f"notice: {reference.notice}")
    return "; ".join(reasons), tuple(said)


def as_linked(sources: Iterable[LinkedSource], vocabulary: Vocabulary) -> tuple[Linked, ...]:
    """The sources that count, as the rules of a narrative rating see them."""
    return tuple(
        Linked(s.key, s.label, s.stance, s.kind, s.n, s.design, randomised_of(s.design, vocabulary))
        for s in sources
        if s.counts
    )


def randomised_of(design: str, vocabulary: Vocabulary) -> bool | None:
    """Whether a design is randomised; None where none is given or it does not say."""
    known = vocabulary.designs.get(design)
    return {"yes": True, "no": False}.get(known.randomised) if known else None


def panel_of_links(sources: Sequence[LinkedSource], pooled: bool) -> Panel:
    """All linked sources as a table, those for the claim first, then those against, mixed, background."""
    order = list(STANCES)
    rows = tuple(
        (
            STANCES[s.stance],
            f"{s.label} [{s.notice.upper()}]" if s.notice else s.label,
            s.kind if s.n is None else f"{s.kind}, n {s.n}",
            s.locator,
            s.said,
            "; ".join(s.told),
        )
        for s in sorted(sources, key=lambda s: order.index(s.stance))
    )
    text = "They hold no figures that could be pooled" + (
        ", and change neither verdict nor confidence."
        if pooled
        else "; studies and reviews count by what they say."
    )
    return Panel(
        "Sources linked by people", text, ("stance", "source", "kind", "where", "says", "note"), rows
    )
