"""What one study adds to a claim: its contrasts on one scale, brought to a single figure for its people."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from evidence.appraisal.body import Contribution
from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Condition, Outcome, Result
from evidence.statistics.effect import Effect, Metric
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Pairing
from evidence.workflows.effects.contrasts import Contrast, build_contrast
from evidence.workflows.effects.links import Links, Pick
from evidence.workflows.effects.study_results import StudyResults, combine, find_results
from evidence.workflows.relevance.bearing import Bearing
from evidence.workflows.relevance.bias_ratings import pedro_total
from references.citing import short_citation
from references.record import Record


@dataclass(frozen=True, slots=True)
class StudyEvidence:
    """A study's contrasts that bear on a claim, before a scale is chosen."""

    bearing: Bearing
    contrasts: tuple[Contrast, ...]
    links: Links
    known: dict[str, StudyResults | None] = field(default_factory=dict, compare=False, repr=False)

    @property
    def rows(self) -> StudyRows:
        """The study with all its rows."""
        return self.bearing.rows


def gather_contrasts(bearing: Bearing, construct: str, vocabulary: Vocabulary, pick: Pick) -> StudyEvidence:
    """Every contrast of the study's conditions on the claim's outcome and regions."""
    links = Links(bearing.rows, construct, vocabulary, pick)
    found = [
        turn_if_lower_is_better(
            contrast_once(bearing.rows, a.condition, b.condition, outcome, region, links),
            construct,
            vocabulary,
        )
        for outcome in choose_outcomes(bearing.outcomes)
        for region in bearing.regions
        for a in bearing.exercise_sides
        for b in bearing.comparator_sides
    ]
    return StudyEvidence(bearing, tuple(c for c in found if c is not None), links)


def contrast_once(
    rows: StudyRows, a: Condition, b: Condition, outcome: Outcome, region: str | None, links: Links
) -> Contrast | None:
    """The contrast of two conditions, worked out once for all claims that are weighed on this reading of the study."""
    known = rows.worked_out
    name = ("contrast", a.id, b.id, outcome.id, region, links.construct, links.pick, links.pick_results)
    if name not in known:
        known[name] = build_contrast(rows, a, b, outcome, region, links)
    found: Contrast | None = known[name]
    return found


def turn_if_lower_is_better(
    contrast: Contrast | None, construct: str, vocabulary: Vocabulary
) -> Contrast | None:
    """A sprint time beside a jump height: where less is better although more of the construct is, the sign turns."""
    if contrast is None or not is_turned(contrast.outcome, construct, vocabulary):
        return contrast
    return replace(
        contrast,
        effects={scale: effect.swapped() for scale, effect in contrast.effects.items()},
        bare={scale: -value for scale, value in contrast.bare.items()},
        means=None,
    )


def is_turned(outcome: Outcome, construct: str, vocabulary: Vocabulary) -> bool:
    """Whether lower figures of an outcome mean more of its construct."""
    return outcome.better == "lower" and vocabulary.constructs[construct].better == "higher"


def choose_outcomes(outcomes: Sequence[Outcome]) -> tuple[Outcome, ...]:
    """The outcomes that may be averaged: of several views of one signal, one.

    Mean amplitude where it was given beside peak or integrated; of figures in different units or normalisations (a
    share of a maximum, a ratio of two muscles), those of the first.
    """
    chosen = tuple(outcomes)
    for amplitude in ("mean", "peak", "integrated"):
        of_kind = tuple(o for o in chosen if o.amplitude == amplitude)
        if of_kind:
            chosen = of_kind
            break
    if chosen and chosen[0].normalisation != "not stated":
        first = chosen[0]
        chosen = tuple(o for o in chosen if (o.unit, o.normalisation) == (first.unit, first.normalisation))
    return chosen


def note_outcomes(evidence: StudyEvidence, label: str) -> list[str]:
    """What a study measured besides and was not averaged in, and what was turned round."""
    used = {o.id for o in choose_outcomes(evidence.bearing.outcomes)}
    others = [f"{o.key} ({o.unit}, {o.amplitude})" for o in evidence.bearing.outcomes if o.id not in used]
    notes = [f"{label} also gives {', '.join(others)}; not averaged with what is shown."] if others else []
    chosen = choose_outcomes(evidence.bearing.outcomes)
    construct, vocabulary = evidence.links.construct, evidence.links.vocabulary
    turned = [o.key for o in chosen if is_turned(o, construct, vocabulary)]
    if turned:
        notes.append(
            f"{label}: lower is better for {', '.join(turned)}; its sign was turned, so that more is better."
        )
    return notes


def results_of(evidence: StudyEvidence, scale: str) -> StudyResults | None:
    """The study's effects on a scale with their covariance; worked out once."""
    if scale not in evidence.known:
        evidence.known[scale] = find_results(evidence.contrasts, evidence.links, scale)
    return evidence.known[scale]


def study_effect(evidence: StudyEvidence, scale: str) -> Effect | None:
    """The study's one effect on a scale; several of the same people are averaged, never counted apart."""
    results = results_of(evidence, scale)
    return combine(results) if results else None


def bare_estimate(evidence: StudyEvidence, scale: str) -> float | None:
    """The average of estimates printed without any spread."""
    values = [c.bare[scale] for c in evidence.contrasts if scale in c.bare]
    return sum(values) / len(values) if values else None


def contribute(evidence: StudyEvidence, scale: str, construct: str, label: str) -> Contribution:
    """The study as the appraisal sees it, on one scale."""
    rows = evidence.rows
    effect = study_effect(evidence, scale)
    bare = None if effect else bare_estimate(evidence, scale)
    low, high = effect.interval() if effect else (None, None)
    bias = rows.study.bias or {}
    return Contribution(
        study=rows.study.key,
        label=label,
        year=rows.study.year,
        design=rows.study.design,
        randomised={"yes": True, "no": False}.get(rows.study.randomised),
        n=effect.n if effect and effect.n else count_people(evidence),
        estimate=effect.estimate if effect else bare,
        variance=effect.variance if effect else None,
        low=low,
        high=high,
        df=degrees_of_freedom(evidence, effect) if effect else None,
        construct=construct,
        bias=str(bias.get("overall") or "not assessed"),
        high_domains=int(bias.get("high_domains") or 0),
        bias_tool=str(bias.get("tool") or ""),
        score=pedro_total(bias),
        indirectness=evidence.bearing.indirectness,
        note="; ".join(explain_absence(evidence, scale)) if effect is None else "",
    )


def degrees_of_freedom(evidence: StudyEvidence, effect: Effect) -> float | None:
    """Those of a study's own variance: people − 1 where all did everything, people − 2 of two groups.

    None for what is not made of means (counts, correlations), and where the people are not known.
    """
    if effect.df is not None or effect.metric not in OF_MEANS or not effect.n:
        return effect.df
    lost = 1 if evidence.rows.study.pairing == Pairing.WITHIN else 2
    return float(effect.n - lost) if effect.n > lost else None


OF_MEANS = frozenset(
    {
        Metric.LOG_RATIO_OF_MEANS,
        Metric.MEAN_DIFFERENCE,
        Metric.SMD,
        Metric.SMD_CHANGE,
        Metric.PERCENT_CHANGE_DIFFERENCE,
        Metric.MEAN,
    }
)
TOLD = (
    "yardstick", "after only", "n differs", "sign of t", "median_converted", "skewed_median", "zero_cells"
)  # fmt: skip


def note_leanings(evidence: StudyEvidence, scale: str) -> list[str]:
    """What a study's effect leans on that a reader of the verdict should know (correlations are told apart)."""
    effect = study_effect(evidence, scale)
    texts = [a.text for a in effect.assumptions if a.code in TOLD] if effect else []
    return [f"{name_study(evidence.rows)}: {text}" for text in dict.fromkeys(texts)]


def explain_absence(evidence: StudyEvidence, scale: str) -> list[str]:
    """Why a study gives no effect on a scale."""
    reasons = [reason for contrast in evidence.contrasts for reason in contrast.reasons]
    others = sorted(
        {s.replace("_", " ") for c in evidence.contrasts for s in c.effects} - {scale.replace("_", " ")}
    )
    if others:
        reasons.append(f"gives {', '.join(others)} only, which cannot be pooled with the others")
    return list(dict.fromkeys(reasons)) or ["no spread was printed, so no interval can be worked out"]


def count_people(evidence: StudyEvidence) -> int:
    """People behind a study's contrasts: once within people, both groups between people."""
    rows = evidence.rows
    total = max((p.analysed or p.recruited or 0 for p in rows.people), default=0)
    if total:
        return total
    sizes = [
        c.condition.n or 0 for c in (*evidence.bearing.exercise_sides, *evidence.bearing.comparator_sides)
    ]
    return max(sizes, default=0) if rows.study.pairing == Pairing.WITHIN else sum(sizes)


def name_study(rows: StudyRows) -> str:
    """A study as people cite it: by its report, else by its own key."""
    if "name" not in rows.worked_out:
        rows.worked_out["name"] = find_name(rows)
    return str(rows.worked_out["name"])


def find_name(rows: StudyRows) -> str:
    """The short citation of the report, else of any reference, else the study's key."""
    pairs = zip(rows.links, rows.references, strict=True)
    return name_by_references(rows.study.key, [(link.role, reference.csl) for link, reference in pairs])


def name_by_references(key: str, references: Sequence[tuple[str, Mapping[str, Any]]]) -> str:
    """The same by what is read of a study for a list: its key, and the role and CSL of each of its references."""
    reports = [csl for role, csl in references if role == "report"]
    named = reports or [csl for _, csl in references]
    return short_citation(Record.from_csl(named[0])) if named else key


def figures_used(evidence: StudyEvidence) -> tuple[Result, ...]:
    """The printed results behind a study's contrasts, each once."""
    seen: dict[str, Result] = {}
    for contrast in evidence.contrasts:
        seen.update({result.key: result for result in contrast.figures})
    return tuple(seen.values())
