"""Why an answer moved: which study came, went or changed, which notice, which choice of a person, which rules."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from evidence.appraisal.confidence import format_levels
from evidence.catalogue.queries.evidence_changes import EvidenceChanges, Step, StudyTouched
from evidence.catalogue.tables import Appraisal, Claim
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.kinship import related_regions
from evidence.workflows.weigh.weighed import RETRACTED

MOVED = 1e-9  # figures are compared as computed: what differs by less is rounding of the machine


@dataclass(frozen=True, slots=True)
class Cause:
    """One reason why an answer moved, with the changes in the history that it comes from."""

    kind: str  # "study", "left out", "rating", "person", "rules", "claim"
    key: str  # of the study; empty: none
    text: str
    changes: tuple[int, ...] = ()


def find_causes(
    before: Appraisal, now: Appraisal, claim: Claim, changes: EvidenceChanges, vocabulary: Vocabulary
) -> tuple[Cause, ...]:
    """What of the later appraisal differs from the earlier one, set against the history.

    Only changes that touch the claim: not those of other regions or outcomes of a study, nor notes on the claim.
    """
    steps = {
        study.key: [s for s in study.steps if s.at > before.at and touches(study, s, claim, vocabulary)]
        for study in changes.studies.values()
        if study.key
    }
    put = {notice.step.number for notice in changes.notices}
    found = [
        *compare_studies(before.body, now.body, steps),
        *compare_left_out(before.body, now.body, steps, put),
    ]
    own = [
        s
        for s in changes.claims.get(claim.id or 0, ())
        if s.at > before.at and (claim.id or 0, s.number) not in changes.beside
    ]
    if own:
        found.append(
            Cause(
                "claim",
                "",
                f"somebody changed what the claim asks, or a choice made for it: {name_steps(own)}",
                numbers(own),
            )
        )
    found += compare_versions(before.versions, now.versions)
    if not found:
        found += compare_domains(before.body, now.body)
    return tuple(found)


def touches(study: StudyTouched, step: Step, claim: Claim, vocabulary: Vocabulary) -> bool:
    """Whether a change of a study can have changed what it says of a claim.

    A change of nothing but results touches claims of their outcomes and regions; any other (its people, its design, a
    notice on its report) touches all.
    """
    of_results = study.results.get(step.number)
    if of_results is None:
        return True
    outcomes = {claim.construct_id, claim.surrogate, claim.terms.get("other")}
    regions = related_regions(claim.region, vocabulary) if claim.region else None
    return any(
        construct in outcomes and (regions is None or region in regions) for construct, region in of_results
    )


def compare_studies(
    before: Mapping[str, Any], now: Mapping[str, Any], steps: Mapping[str, list[Step]]
) -> list[Cause]:
    """Studies that came, went, or whose figures changed."""
    old = {row["study"]: row for row in before.get("studies", ())}
    new = {row["study"]: row for row in now.get("studies", ())}
    gone = {row["study"] for row in now.get("left_out", ())}
    found = []
    for key in [*old, *(k for k in new if k not in old)]:
        done = steps.get(key, [])
        if key not in old:
            found.append(
                Cause(
                    "study",
                    key,
                    f"{key} was added: {name_steps(done) or 'it answers the question now'}",
                    numbers(done),
                )
            )
        elif key not in new and key not in gone:
            found.append(
                Cause(
                    "study",
                    key,
                    f"{key} no longer counts: {name_steps(done) or 'other studies answer the question more directly'}",
                    numbers(done),
                )
            )
        elif key in new and differ(old[key], new[key]):
            found.append(
                Cause(
                    "study",
                    key,
                    f"figures of {key} changed: {name_steps(done) or 'worked out anew'}",
                    numbers(done),
                )
            )
    return found


def differ(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether what a study gives differs."""
    for name in ("estimate", "variance", "n"):
        a, b = one.get(name), other.get(name)
        if (a is None) != (b is None):
            return True
        if a is not None and abs(a - b) > MOVED * max(1.0, abs(a)):
            return True
    return False


def compare_left_out(
    before: Mapping[str, Any], now: Mapping[str, Any], steps: Mapping[str, list[Step]], put: Collection[int]
) -> list[Cause]:
    """Studies newly left out, with the reason. `put`: changes with notices; a retraction comes from these alone."""
    old = {row["study"]: row for row in before.get("left_out", ())}
    new = {row["study"]: row for row in now.get("left_out", ())}
    found = []
    for key, row in new.items():
        if key not in old or old[key]["reason"] != row["reason"]:
            done = [s for s in steps.get(key, []) if s.number in put or row["reason"] != RETRACTED]
            told = name_steps(done)
            text = f"{key} is left out: {row['reason']}" + (f" ({told})" if told else "")
            found.append(Cause("left out", key, text, numbers(done)))
    return found


def compare_versions(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[Cause]:
    """Other rules, or another version of Steelyard."""
    found = []
    for name, told in (("rule_set", "the rule set"), ("rules", "the rules"), ("steelyard", "Steelyard")):
        if before.get(name) != now.get(name):
            text = f"{told} was {before.get(name, 'not noted')} and is {now.get(name)}"
            found.append(Cause("rules", "", text))
    return found


def compare_domains(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[Cause]:
    """Domains of the rating that were rated otherwise."""
    old = {row["domain"]: row for row in before.get("domains", ())}
    found = []
    for row in now.get("domains", ()):
        was = old.get(row["domain"])
        if was is not None and was["proposed"] != row["proposed"]:
            levels = f"{format_levels(was['proposed'])}, now {format_levels(row['proposed'])}"
            found.append(
                Cause("rating", "", f"{row['domain'].replace('_', ' ')} was {levels}: {row['reason']}")
            )
    return found


def name_steps(steps: Iterable[Step]) -> str:
    """Change sets as they are named: `change 12, by Sam on 2026-03-01`; the last three."""
    told = [f"change {s.number}, by {s.who} on {s.at:%Y-%m-%d}" for s in steps]
    return "; ".join(told[-3:])


def numbers(steps: Iterable[Step]) -> tuple[int, ...]:
    """The numbers of change sets, each once."""
    return tuple(dict.fromkeys(step.number for step in steps))
