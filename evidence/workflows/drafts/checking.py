"""A draft held against the catalogue: every check over every sentence, in the order of the draft."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from evidence.reading.drafts import Draft
from evidence.reading.drafts.reading import REGISTERS
from evidence.workflows.drafts.figure_findings import check_figures
from evidence.workflows.drafts.findings import ORDER, Draught, Finding, Severity, place_finding
from evidence.workflows.drafts.knowledge import Knowledge
from evidence.workflows.drafts.measures import check_measures
from evidence.workflows.drafts.people import check_people
from evidence.workflows.drafts.readings import Reading, read_all
from evidence.workflows.drafts.safety import check_safety
from evidence.workflows.drafts.sources import check_sources
from evidence.workflows.drafts.strengths import check_strengths

CHECKS: tuple[Callable[[Reading], Iterator[Draught]], ...] = (
    check_sources,
    check_strengths,
    check_figures,
    check_measures,
    check_people,
    check_safety,
)


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of checking one draft. `notes`: what was odd about the file."""

    draft: Draft
    findings: tuple[Finding, ...]
    sentences: int
    tied: int
    notes: tuple[str, ...]

    def at_least(self, severity: Severity) -> tuple[Finding, ...]:
        """Findings at or above a severity that the author has not accepted."""
        lowest = ORDER.index(severity)
        return tuple(f for f in self.findings if f.accepted is None and ORDER.index(f.severity) >= lowest)


def check_draft(
    draft: Draft,
    knowledge: Knowledge,
    audience: str | None = None,
    ties: Mapping[int, Iterable[str]] | None = None,
    register: str | None = None,
) -> Checked:
    """Hold a draft against what is known. `audience` goes before the front matter's; `ties`: see `read_all`.

    `register` of the wordings that are put in a sentence's place: short, plain or full; left out, the front
    matter's, else short.
    """
    register = register or register_of(draft)
    if audience:
        draft = replace(draft, settings={**draft.settings, "audience": audience})
    readings = read_all(draft, knowledge, ties, register)
    fresh = knowledge.refreshed(c.key for r in readings for c in r.claims)
    if fresh is not knowledge:
        readings = read_all(draft, fresh, ties, register)
    found: list[Finding] = []
    for reading in readings:
        seen: set[tuple[object, ...]] = set()
        for check in CHECKS:
            for draught in check(reading):
                sign = (
                    draught.kind,
                    draught.claim,
                    draught.references,
                    draught.mark,
                    draught.source,
                    draught.what,
                )
                if sign not in seen:
                    seen.add(sign)
                    found.append(place_finding(draught, reading))
    found.sort(key=lambda f: (f.start, f.kind))
    numbered = tuple(replace(f, number=i) for i, f in enumerate(found, 1))
    tied = sum(r.is_tied for r in readings)
    worded = sum(bool(r.text) for r in readings)
    return Checked(draft, numbered, worded, tied, draft.notes)


def register_of(draft: Draft) -> str:
    """The register that the front matter names; short where it names none there is."""
    said = draft.settings.get("register")
    return said if isinstance(said, str) and said in REGISTERS else REGISTERS[0]
