"""A brief on one claim: filled from a weighing, written, and registered as a use."""

from pathlib import Path

from evidence.appraisal.verdict import VerdictKind
from evidence.catalogue import Catalogue
from evidence.catalogue.tables import Claim, Condition, Result
from evidence.publishing.briefs import Assumption, Brief, GridRow, LeftOut, PrintedFigure, StudyEntry
from evidence.publishing.formats import Wanted, choose_format
from evidence.publishing.sources import Made
from evidence.vocabulary import Vocabulary
from evidence.vocabulary.terms import Direction, Spread, Statistic
from evidence.workflows.documents.outputs import Output, hand_out
from evidence.workflows.effects.printed import tell_printed
from evidence.workflows.gather.sources import format_sources, list_sources
from evidence.workflows.making import made_from
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.relevance.contributions import StudyEvidence, figures_used
from evidence.workflows.relevance.verifying import label_figures
from evidence.workflows.weigh.claims_in_words import PEOPLE_BY_SEX, SIDES, capital, name_exercise, name_people
from evidence.workflows.weigh.inventing import find_inventions
from evidence.workflows.weigh.pooling_claims import NestedPooled
from evidence.workflows.weigh.varied_correlations import GridRow as VariedRow
from evidence.workflows.weigh.weighing import Weighing, weigh_and_keep


def write_brief(
    catalogue: Catalogue,
    key: str,
    output: Path | None,
    who: str,
    wanted: Wanted | None = None,
    *,
    one_page: bool = False,
) -> Output:
    """Weigh a claim and write its brief, in the format wanted, else by the file's ending, else as plain text.

    `one_page`: the answer with its sources alone, without the tables behind it.
    """
    from evidence.publishing.brief_pages import brief_document, brief_sheet

    wanted = wanted or choose_format(None, output)
    weighing = weigh_and_keep(catalogue, key, who)
    made = make_brief(catalogue, weighing)
    document = brief_sheet(made) if one_page else brief_document(made)
    return hand_out(catalogue, document, output, wanted, "brief", [weighing], who)


def make_brief(catalogue: Catalogue, weighing: Weighing, made: Made | None = None) -> Brief:
    """All of a brief, from a weighing. `made`: what it names as its state; None: the catalogue's own, hashed."""
    vocabulary = vocabulary_of(catalogue)
    claim, pooled = weighing.claim, weighing.pooled
    exercise = name_exercise(claim.exercise, claim.exercise_details, vocabulary)
    comparator = name_exercise(claim.comparator, claim.comparator_details, vocabulary)
    prediction = None
    if pooled and pooled.prediction_low is not None and pooled.prediction_high is not None:
        prediction = (pooled.prediction_low, pooled.prediction_high)
    inventions = find_inventions(weighing.studies, weighing.sources)
    entries = zip(weighing.studies, weighing.contributions, strict=True)
    less, more = SIDES.get(claim.kind, (f"more with {comparator}", f"more with {exercise}"))
    if claim.comparator is None and claim.kind not in SIDES and not claim.comparator_details:
        less, more = f"less with {exercise}", f"more with {exercise}"
    return Brief(
        key=claim.key,
        statement=weighing.statement,
        claimed=Direction(claim.direction),
        verdict=weighing.verdict,
        confidence=weighing.confidence,
        wordings=weighing.wordings,
        made=made or made_from(catalogue),
        studies=tuple(
            inventions.mark_entry(study_entry(evidence, contribution, vocabulary))
            for evidence, contribution in entries
        ),
        left_out=tuple(LeftOut(item.label, f"{item.reason} ({item.by})") for item in weighing.left_out),
        more=more,
        less=less,
        against=tell_against(weighing),
        pooling=tell_pooling(weighing),
        prediction=prediction,
        assumptions=tell_assumptions(weighing),
        changes=tuple(for_readers(line) for line in weighing.would_change),
        references=inventions.mark_sources(
            (*list_sources(s.rows for s in weighing.studies), *format_sources(weighing.sources))
        ),
        cautions=cautions_for(weighing, vocabulary),
        invented=inventions.any,
        made_up=inventions.names,
        people=people_of_claim(claim, vocabulary),
        review_due=claim.review_due.isoformat() if claim.review_due else "",
        notes=weighing.notes,
        panels=weighing.panels,
        graded=weighing.graded,
        empty=weighing.empty,
    )


def tell_against(weighing: Weighing) -> str:
    """What speaks against a claim that no study's own figure can contradict; empty: the studies' figures tell it."""
    if weighing.claim.kind == "superlative":
        if weighing.verdict.kind is VerdictKind.SUPPORTED:
            return "None of the exercises compared is level with it or above it; others were not compared."
        return f"{capital(weighing.verdict.text)}. {weighing.verdict.sentence}"
    if weighing.kind.evidence == "results":
        return ""
    against = [row for p in weighing.panels for row in p.rows if {"against", "mixed"} & set(row)]
    if against:
        return "; ".join(": ".join((row[0], row[-1])) for row in against) + "."
    return "No source that speaks against it is linked; that is no proof that there is none."


def people_of_claim(claim: Claim, vocabulary: Vocabulary) -> str:
    """Whom the claim itself is about; empty where it names nobody."""
    status = vocabulary.training_statuses.get(claim.training_status or "")
    sex = PEOPLE_BY_SEX.get(claim.sex or "", "people")
    if not (status or claim.sex or claim.health):
        return ""
    text = f"{status.name} {sex}" if status else sex
    return f"{text} with {claim.health}" if claim.health else text


def study_entry(evidence: StudyEvidence, contribution: object, vocabulary: Vocabulary) -> StudyEntry:
    """One study as the brief's table has it."""
    from evidence.appraisal.body import Contribution

    assert isinstance(contribution, Contribution)
    rows = evidence.rows
    figures = figures_used(evidence)
    conditions = {c.id: c for c in rows.conditions}
    readings = sorted({f.read_from for f in figures})
    notices = tuple(dict.fromkeys(r.notice for r in rows.references if r.notice))
    bias = contribution.bias
    return StudyEntry(
        label=contribution.label,
        n=contribution.n,
        people=name_people([evidence], vocabulary),
        design=vocabulary.designs[rows.study.design].name
        if rows.study.design in vocabulary.designs
        else rows.study.design,
        printed=tuple(as_printed(f, conditions, evidence, vocabulary) for f in figures),
        estimate=contribution.estimate,
        low=contribution.low,
        high=contribution.high,
        weight=contribution.weight,
        bias=bias,
        indirect=tuple(i.reason for i in contribution.indirectness),
        notices=notices,
        note=contribution.note,
        read_from=", ".join(readings),
        verified=bool(figures) and not label_figures(figures),
        reference=rows.references[0].key if rows.references else "",
    )


def as_printed(
    result: Result, conditions: dict[int | None, Condition], evidence: StudyEvidence, vocabulary: Vocabulary
) -> PrintedFigure:
    """A printed figure with its condition, unit and place."""
    percent = "%" if result.statistic == Statistic.PERCENT_CHANGE else None
    unit = (
        result.printed_unit
        or percent
        or next((o.unit for o in evidence.rows.outcomes if o.id == result.outcome_id), "")
    )
    who = conditions[result.condition_id]
    name = who.printed or who.key
    if result.comparator_id is not None:
        other = conditions[result.comparator_id]
        name = f"{name} against {other.printed or other.key}"
    if len(evidence.bearing.regions) > 1 and result.region:
        name = f"{name}, {vocabulary.regions[result.region].name}"
    if result.timepoint not in ("acute", "over"):
        name = f"{name}, {result.timepoint}"
    spread = "" if result.spread_kind in (Spread.NONE, Spread.CI) else f" ({result.spread_kind})"
    return PrintedFigure(name, f"{tell_printed(result)} {unit}{spread}".strip(), result.locator)


def tell_pooling(weighing: Weighing) -> str:
    """How the studies were pooled."""
    pooled = weighing.pooled
    if pooled is None or pooled.k < 2:
        return ""
    interval = {"knapp_hartung": "Knapp-Hartung", "wald": "Wald"}.get(
        pooled.interval_method, pooled.interval_method
    )
    spread = f"; I² {pooled.i2:.0f} %" if pooled.i2 is not None else ""
    if isinstance(pooled, NestedPooled):
        return (
            f"three-level model of {pooled.results} results in {pooled.k} studies, REML, cluster-robust "
            f"interval (CR2); tau² {pooled.tau2_between:.3g} between studies, "
            f"{pooled.tau2_within:.3g} between results of one study"
            f"{spread}"
        )
    return f"random effects, {pooled.tau2_method}, {interval} interval; tau² {pooled.tau2:.3g}{spread}"


def tell_assumptions(weighing: Weighing) -> tuple[Assumption, ...]:
    """What the figures lean on that was not printed; the correlations with the answer over their range."""
    from evidence.workflows.relevance.contributions import study_effect

    seen: dict[str, Assumption] = {}
    for evidence in weighing.studies:
        effect = study_effect(evidence, weighing.scale)
        for a in effect.assumptions if effect else ():
            seen.setdefault(a.text, Assumption(a.text, a.source))
    if not weighing.grid:
        return tuple(seen.values())
    told = {
        "within people": "The correlation within people, varied from its usual low to its usual high value.",
        "results of one study": "The correlation between outcomes or regions of the same people, varied likewise.",
    }
    varied = [
        Assumption(text, "", tuple(as_grid_row(row) for row in weighing.grid if row.varied == what))
        for what, text in told.items()
        if any(row.varied == what for row in weighing.grid)
    ]
    return (*varied, *seen.values())


def as_grid_row(row: VariedRow) -> GridRow:
    """One row of the table of other correlations."""
    one = len(row.correlations) == 1
    values = ", ".join(f"{r:g}" for r in row.correlations)
    return GridRow(
        row.pick if one else f"{row.pick}: {values}",
        row.correlations[0] if one else None,
        row.estimate,
        row.low,
        row.high,
        row.verdict,
    )


def cautions_for(weighing: Weighing, vocabulary: Vocabulary) -> tuple[str, ...]:
    """The cautions that the claim's outcome and people call up."""
    words = " ".join(
        [weighing.statement, weighing.construct, *(p.health for s in weighing.studies for p in s.rows.people)]
    )
    return tuple(caution.text for caution in vocabulary.cautions_for(words))


def for_readers(line: str) -> str:
    """A line of the rating as it goes out: the command that the author is told of is nothing to a reader."""
    said, command, _ = line.partition(": steelyard ")
    return f"{said}." if command else line
