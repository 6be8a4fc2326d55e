"""A full example of what the workflows hand over: one brief and one annotated programme, all of it
invented.

It shows how the dataclasses of appraisal and publishing are filled: contributions -> body -> verdict,
confidence, wordings -> brief.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from evidence.appraisal.body import Body, Contribution, Indirectness
from evidence.appraisal.changing import find_changes
from evidence.appraisal.confidence import rate
from evidence.appraisal.levels import Level
from evidence.appraisal.overrides import Override, apply_override
from evidence.appraisal.verdict import VerdictKind, judge
from evidence.appraisal.wording import Names, Points, wordings
from evidence.publishing.briefs import (
    Assumption,
    Brief,
    GridRow,
    LeftOut,
    PrintedFigure,
    StudyEntry,
)
from evidence.publishing.programmes import (
    AnnotatedProgramme,
    Overlap,
    Pick,
    PickClaim,
    Prescription,
    Session,
    Swap,
    WeeklySets,
)
from evidence.publishing.sources import Made, Reference
from evidence.statistics.pooling import pool
from evidence.vocabulary.terms import Direction

MADE = Made("5f2c9a1e0b77", "2026-11-25", "0.1.0")

# label, year, n, mean and SD of the Nordic curl, of the lying curl, estimate, SE (log ratio), bias
FIGURES = (
    ("Thistledown 2019", 2019, 16, "78 ± 18", "61 ± 15", 0.246, 0.046, "some concerns"),
    (
        "Pellworm, Dapplegrim & Oxenholme-Featherstonehaugh 2020",
        2020,
        22,
        "84 ± 20",
        "63 ± 17",
        0.288,
        0.041,
        "low",
    ),
    ("Quillfeather 2022", 2022, 18, "71 ± 22", "66 ± 19", 0.073, 0.060, "some concerns"),
    ("Moorcock 2023", 2023, 11, "58 ± 17", "64 ± 20", -0.098, 0.080, "high"),
)


def make_body() -> Body:
    pooled = pool([f[5] for f in FIGURES], [f[6] ** 2 for f in FIGURES], labels=[f[0] for f in FIGURES])
    contributions = [
        Contribution(
            study=label.split()[0].lower().strip(","),
            label=label,
            year=year,
            design="randomised_crossover",
            randomised=True,
            n=n,
            estimate=estimate,
            variance=se**2,
            low=estimate - 1.96 * se,
            high=estimate + 1.96 * se,
            weight=weight,
            construct="activation",
            bias=bias,
            high_domains=2 if bias == "high" else 0,
            indirectness=(Indirectness("population", "minor", "rowers were studied"),)
            if year == 2023
            else (),
        )
        for (label, year, n, _, _, estimate, se, bias), weight in zip(FIGURES, pooled.weights, strict=True)
    ]
    contributions.append(
        Contribution(
            study="oxbarrow",
            label="Oxbarrow 2016",
            year=2016,
            design="within_subject_order_not_randomised",
            randomised=None,
            n=9,
            estimate=0.18,
            construct="activation",
            note="the abstract gives means without spread",
        )
    )
    return Body(
        construct="activation",
        metric="log_ratio_of_means",
        contributions=tuple(contributions),
        pooled=pooled,
        within_person_r=0.7,
        direction=Direction.MORE,
    )


def make_brief(**changes: Any) -> Brief:
    body = make_body()
    verdict = judge(body)
    proposed = rate(body)
    override = Override(
        "indirectness",
        "-1",
        "Two of the five studied rowers only.",
        "A. Reader",
        "2026-11-20",
        proposed.inputs_hash,
    )
    confidence = apply_override(proposed, [override])
    names = Names(
        "the Nordic curl",
        "the lying leg curl",
        "biceps femoris long head",
        "activation",
        "resistance-trained adults",
    )
    studies = [
        StudyEntry(
            label=c.label,
            n=c.n,
            people="resistance-trained adults, 18 to 40" if c.year != 2023 else "club rowers, 19 to 26",
            design="same people, order randomised",
            printed=(
                PrintedFigure("Nordic curl", f"{figures[3]} %MVIC", "Table 2"),
                PrintedFigure("lying leg curl", f"{figures[4]} %MVIC", "Table 2"),
            ),
            estimate=c.estimate,
            low=c.low,
            high=c.high,
            weight=c.weight,
            bias=c.bias,
            indirect=tuple(i.reason for i in c.indirectness),
            notices=("Corrected 2024: figures read after the correction",) if c.year == 2022 else (),
            read_from="full text",
            verified=c.year == 2019,
            reference=c.study,
        )
        for c, figures in zip(body.contributions, FIGURES, strict=False)
    ]
    bare = body.contributions[-1]
    studies.append(
        StudyEntry(
            bare.label,
            bare.n,
            "recreationally active men",
            "same people, order not stated",
            (
                PrintedFigure("Nordic curl", "55 %MVIC", "abstract"),
                PrintedFigure("lying leg curl", "46 %MVIC", "abstract"),
            ),
            bare.estimate,
            note=bare.note,
            read_from="abstract",
            reference="oxbarrow",
        )
    )
    assert verdict.estimate is not None
    assert verdict.low is not None
    assert verdict.high is not None
    grid = tuple(
        GridRow(name, r, verdict.estimate, verdict.estimate - half, verdict.estimate + half, text)
        for name, r, half, text in (
            ("low", 0.4, 0.31, "no clear difference"),
            ("default", 0.7, verdict.high - verdict.estimate, verdict.text),
            ("high", 0.9, 0.12, "supported"),
        )
    )
    base = Brief(
        key="nordic-over-lying-curl-activation",
        statement="The Nordic curl activates the biceps femoris long head more than the lying leg curl",
        claimed=Direction.MORE,
        verdict=verdict,
        confidence=confidence,
        wordings=wordings(verdict, confidence, names, Points(12.4, "percentage points of MVIC", 63.0)),
        made=MADE,
        studies=tuple(studies),
        left_out=(LeftOut("Bramblewick 2018", "Retracted; shown here and not pooled."),),
        more="higher with the Nordic curl",
        less="higher with the lying leg curl",
        pooling="REML; Knapp-Hartung interval",
        prediction=(-0.35, 0.62),
        assumptions=(
            Assumption(
                "No study printed how the two exercises correlate within a person; 0.7 was assumed.",
                "default of the construct",
                grid,
            ),
        ),
        changes=find_changes(body, proposed).lines(),
        references=tuple(
            Reference(
                s.reference,
                f"{s.label.split()[0]} A. [Invented] Two hamstring curls. Imaginary Kinesiology.",
                f"https://doi.org/10.5555/sy.{s.reference}",
                "Corrected 2024-03-01" if s.reference == "quillfeather" else "",
            )
            for s in studies
        ),
        cautions=("General training information, not medical advice. Stop if something hurts.",),
        invented=True,
        people="resistance-trained adults",
        review_due="2027-11-25",
        notes=("Activation is an acute measure: it is not growth and not strength.",),
    )
    return replace(base, **changes)


@pytest.fixture
def brief() -> Callable[..., Brief]:
    return make_brief


@pytest.fixture
def log_ratio() -> Callable[[float], float]:
    return lambda percent: math.log1p(percent / 100)


def make_programme(**changes: Any) -> AnnotatedProgramme:
    """A two-day lower-body programme with every kind of pick."""
    supported = PickClaim(
        "nordic-over-lying-curl-activation",
        "Biceps femoris activation is probably higher with the Nordic curl than with the lying leg curl.",
        VerdictKind.SUPPORTED,
        "supported",
        "+28 % (95 % interval 15 % to 42 %, relative percent); 3 studies, 56 people.",
        Level.MODERATE,
        Level.MODERATE,
        Level.MODERATE,
        "Thistledown 2019; Pellworm 2020",
        True,
    )
    surrogate = PickClaim(
        "thrust-over-squat-growth",
        "It is unclear whether gluteus maximus growth differs between the hip thrust and the back squat.",
        VerdictKind.NO_CLEAR_DIFFERENCE,
        "no clear difference",
        "0.07 (95 % interval −0.33 to 0.46, standard deviations); 1 study, 40 people.",
        Level.LOW,
        Level.VERY_LOW,
        Level.LOW,
        "Marrowby 2021",
        None,
        ("The activation claim beside it is about an acute measure and not about growth", "Review is due"),
    )
    against = replace(
        supported,
        key="seated-over-lying-growth",
        wording="Hamstring growth may be greater with the seated leg curl than with the lying leg curl.",
        level=Level.LOW,
        low=Level.LOW,
        high=Level.LOW,
        favours_pick=False,
    )
    base = AnnotatedProgramme(
        title="Two days for the lower body",
        made=MADE,
        author="Harbour Street Strength Club",
        audience="recreational lifters, 20 to 45",
        goal="hamstrings first, then glutes",
        weeks="8 weeks",
        equipment="barbell, bench, leg-curl machine",
        sessions=(
            Session(
                "Monday",
                (
                    Pick(
                        "Hip thrust",
                        Prescription("3", "8–12", "", "2 reps in reserve", "2–3 min"),
                        note="pause for one second at the top",
                        regions=("gluteus maximus",),
                        claims=(surrogate,),
                        reason="Clients like it and it is easy to load.",
                        swaps=(
                            Swap(
                                "back squat",
                                surrogate.wording,
                                surrogate.verdict_text,
                                surrogate.figures,
                                Level.LOW,
                                Level.VERY_LOW,
                                Level.LOW,
                                "Marrowby 2021",
                            ),
                            Swap("cable pull-through", "No claim in the catalogue compares the two."),
                        ),
                        needs="a bench of the right height",
                        group="A1",
                    ),
                    Pick(
                        "Lying leg curl",
                        Prescription("3", "10–12", "60 % 1RM", "", "90 s", "3-1-1-0"),
                        regions=("hamstrings",),
                        claims=(against,),
                        group="A2",
                    ),
                    Pick(
                        "Standing calf raise",
                        Prescription("4", "12–15", "", "to failure", "60 s"),
                        regions=("calf",),
                    ),
                ),
            ),
            Session(
                "Thursday",
                (
                    Pick(
                        "Nordic curl",
                        Prescription("3", "5", "body weight"),
                        claims=(supported,),
                        regions=("hamstrings",),
                    ),
                    Pick(
                        "GHR",
                        Prescription("2", "8"),
                        problems=("GHR is a glute-ham raise or a reverse hyper: which?",),
                    ),
                ),
            ),
        ),
        weekly_sets=(
            WeeklySets("hamstrings", 6, 8.5, 11, 2, "first"),
            WeeklySets("gluteus maximus", 3, 5.5, 8, 2, "second"),
            WeeklySets("calf", 4, 4, 4, 1),
        ),
        overlaps=(Overlap("Monday", "gluteus maximus", ("Hip thrust", "Lying leg curl"), 6),),
        priority_notes=(
            "calf is no priority, yet it has more direct sets than gluteus maximus, which is one.",
        ),
        problems=('plan.yaml, line 9: "wekes" is not known here (did you mean "weeks"?)',),
        audience_gaps=(
            "Growth of the gluteus maximus: studied in untrained women; written for recreational lifters.",
        ),
        open_questions=("Standing against seated calf raise for growth: no study here, used twice a week.",),
        assumed=("Monday, row 2: 60 % read as percent of 1RM",),
        cautions=(
            "General training information, not medical advice. Start lighter than you think you need, "
            "keep technique sound, and stop if something hurts.",
        ),
        references=make_brief().references[:2],
        invented=True,
    )
    return replace(base, **changes)


@pytest.fixture
def programme() -> Callable[..., AnnotatedProgramme]:
    return make_programme
