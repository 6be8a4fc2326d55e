"""What must hold of every rating, whatever the body: order, bounds, sums."""

from dataclasses import replace
from types import SimpleNamespace

from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal.body import BIAS_WORDS, Body, Contribution
from evidence.appraisal.confidence import combine, rate
from evidence.appraisal.levels import ORDER, Level, level_at, read_level
from evidence.appraisal.rulebook import fill_text
from evidence.appraisal.verdict import judge
from evidence.appraisal.wording import Names, wordings
from evidence.vocabulary.terms import Direction

DESIGNS = (
    "randomised_parallel",
    "randomised_crossover",
    "within_subject_order_not_randomised",
    "nonrandomised_comparative",
    "single_arm_or_case_series",
    "something_new",
)
METRICS = (
    "smd",
    "smd_change",
    "log_ratio_of_means",
    "mean_difference",
    "log_risk_ratio",
    "fisher_z",
    "risk_difference",
)


@st.composite
def contributions(draw):
    estimate = draw(st.none() | st.floats(-2, 2))
    half = draw(st.floats(0.01, 2))
    bare = estimate is None or draw(st.booleans())
    return Contribution(
        study=draw(st.sampled_from("abcdefgh")),
        label=draw(st.text(max_size=12)),
        year=None,
        design=draw(st.sampled_from(DESIGNS)),
        randomised=draw(st.sampled_from([True, False, None])),
        n=draw(st.integers(0, 500)),
        estimate=estimate,
        variance=None if bare else (half / 1.96) ** 2,
        low=None if bare else estimate - half,
        high=None if bare else estimate + half,
        construct=draw(st.sampled_from(["activation", "hypertrophy", "strength"])),
        bias=draw(st.sampled_from(BIAS_WORDS)),
        high_domains=draw(st.integers(0, 5)),
        via_common_comparator=draw(st.booleans()),
        score=draw(st.none() | st.floats(0, 10)),
    )


@st.composite
def bodies(draw):
    held = tuple(draw(st.lists(contributions(), max_size=6)))
    pooled = None
    if any(c.has_interval for c in held):
        estimate, half = draw(st.floats(-2, 2)), draw(st.floats(0.001, 3))
        pooled = SimpleNamespace(
            k=sum(c.has_interval for c in held),
            estimate=estimate,
            low=estimate - half,
            high=estimate + half,
            tau2=draw(st.none() | st.floats(0, 1)),
            i2=draw(st.none() | st.floats(0, 100)),
            prediction_low=None,
            prediction_high=None,
        )
    return Body(
        construct=draw(st.sampled_from(["activation", "hypertrophy", "strength", "pain"])),
        metric=draw(st.sampled_from(METRICS)),
        contributions=held,
        pooled=pooled,
        direction=draw(st.sampled_from(Direction)),
        margin=draw(st.none() | st.floats(0.01, 1)),
        small_study_p=draw(st.none() | st.floats(0, 1)),
    )


@given(bodies(), st.sampled_from(["default", "pollock2016", "smo2023", "ashton2020", "narrative"]))
def test_every_body_gets_a_level_inside_its_range_with_reasons_and_words(body, rule_set):
    confidence, verdict = rate(body, rule_set), judge(body)
    assert confidence.low.rank <= confidence.level.rank <= confidence.high.rank
    assert all(d.worst <= d.counted <= d.best <= 0 for d in confidence.domains)
    assert all(d.reason and "{" not in d.reason for d in confidence.domains)
    assert rate(body, rule_set) == confidence
    said = wordings(verdict, confidence, Names("A", "B", "hamstrings", body.construct))
    assert said.short and said.plain.startswith(said.short[:10]) and said.plain in said.full


@given(bodies())
def test_a_worse_risk_of_bias_never_raises_the_level(body):
    worse = replace(
        body,
        contributions=tuple(
            replace(c, bias="high", bias_tool="", high_domains=3) for c in body.contributions
        ),
    )
    better = replace(
        body, contributions=tuple(replace(c, bias="low", bias_tool="") for c in body.contributions)
    )
    assert rate(worse).level.rank <= rate(better).level.rank


@given(st.floats(0.0, 1.0), st.floats(0.05, 1.5), st.floats(1.05, 3))
def test_a_wider_interval_never_raises_precision(estimate, half, factor):
    def levels(width):
        pooled = SimpleNamespace(
            k=3,
            estimate=estimate,
            low=estimate - width,
            high=estimate + width,
            tau2=0.0,
            i2=0.0,
            prediction_low=None,
            prediction_high=None,
        )
        body = Body(construct="strength", metric="smd", pooled=pooled, n_total=2000, direction=Direction.MORE)
        rating = rate(body).domain("imprecision")
        return rating.proposed, dict(rating.facts)["target"]

    (narrow, aim), (wide, other) = levels(half), levels(half * factor)
    if aim == other:
        assert wide <= narrow


@given(st.integers(-20, 20))
def test_ranks_are_held_between_very_low_and_high(rank):
    assert level_at(rank) in ORDER
    assert combine(Level.HIGH, ()) == (Level.HIGH, Level.HIGH, Level.HIGH)


@given(st.sampled_from(ORDER))
def test_levels_are_read_back_from_their_words(level):
    assert read_level(str(level).upper().replace(" ", "_")) is level


def test_a_reason_with_an_unknown_figure_says_so():
    assert fill_text("{x:.0%} of {y}", {"x": None, "y": 3}) == "not known of 3"
    assert fill_text("{x:.0%}", {"x": 0.5}) == "50 %"
