"""The calculator's questions about several results: do two differ from each other, what do many tests prove?"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evidence.errors import BadInput
from evidence.statistics import integrity_intervals, integrity_significance
from evidence.statistics.effect import critical_value, derive
from evidence.statistics.t_tests import two_sided_p
from evidence.workflows.calculator.computing import (
    Figure,
    Grid,
    Worked,
    read_figures,
    read_number,
    require_error_rate,
    require_inside,
)
from evidence.workflows.calculator.text import say_p, show_p

_DIRECT = "Altman & Bland 2003, BMJ 326:219"


@dataclass(frozen=True, slots=True)
class DifferenceQuestion:
    """Two estimates with their 95 % intervals as typed ("0.42 0.10 0.74"); ratios as printed when `ratio`."""

    first: str
    second: str
    ratio: bool = False


def compute_difference(asked: DifferenceQuestion) -> Worked:
    """Whether two independent results differ from each other: z = (e1 − e2)/√(se1² + se2²).

    Raises:
        BadInput: what was typed is no estimate with an interval. NumberProblem: limits the wrong way round.
    """
    (one, se_one), (two, se_two) = (
        _read(option, text, asked.ratio)
        for option, text in (("--first", asked.first), ("--second", asked.second))
    )
    gap, se = one - two, math.hypot(se_one, se_two)
    p = two_sided_p(gap / se)
    ps = (two_sided_p(one / se_one), two_sided_p(two / se_two))
    wide = critical_value(0.95) * se
    low, value, high = ((math.exp if asked.ratio else float)(x) for x in (gap - wide, gap, gap + wide))
    name = "first against second (ratio of the ratios)" if asked.ratio else "first minus second"
    finding = integrity_significance.check_difference_of_significance((one, se_one), (two, se_two))
    said = [
        "This holds for results of different people; of the same people, or against a shared group, it does not."
    ]
    if finding:
        said.insert(
            0, "One result is significant and the other is not: by itself that is no difference between them."
        )
    if p > 0.05:
        said.append("That no difference was shown is not evidence of sameness.")
    verdict = (
        f"The two results differ from each other, p {say_p(p)}."
        if p <= 0.05
        else f"The two results are not shown to differ from each other, p {say_p(p)}."
    )
    scale = "ln(first) − ln(second)" if asked.ratio else "first − second"
    step = derive(
        "direct comparison", f"z = ({scale})/√(se1² + se2²)", _DIRECT, gap / se, se1=se_one, se2=se_two
    )
    each = Grid(
        "Each against no difference", ("result", "p"), (("first", show_p(ps[0])), ("second", show_p(ps[1])))
    )
    return Worked(
        "do two results differ", verdict, (Figure(name, value, low, high),), (each,), (step,), (), tuple(said)
    )


def _read(option: str, text: str, ratio: bool) -> tuple[float, float]:
    """The estimate and its standard error (logarithms for ratios)."""
    estimate, low, high = read_figures(option, text, ("estimate", "low", "high"))
    got = integrity_intervals.weigh_interval(estimate, low, high, ratio=ratio)
    if got.se <= 0:
        raise BadInput(f"{low} to {high} has no width.", where=option, hint="Give estimate, low, high.")
    require_inside(float(estimate), float(low), float(high), option)
    return (math.log(float(estimate)) if ratio else float(estimate)), got.se


def compute_tests(typed: Sequence[str], alpha: float = 0.05) -> Worked:
    """What is left of p-values once it counts how many there are: Holm, and Benjamini and Hochberg.

    Raises:
        BadInput: fewer than two, or one that is no p-value.
    """
    ps = [read_number("P", text) for text in typed]
    for text, p in zip(typed, ps, strict=True):
        if any(sign in text for sign in ">≥"):
            raise BadInput(
                f"{text} is no figure: it may be anything above.",
                where="P",
                hint="Give the p itself; where a paper prints none, the highest it can be is 1.",
            )
        if not 0 <= p <= 1:
            raise BadInput(f"{text} is no p-value.", where="P", hint="A p-value lies from 0 to 1.")
    if len(ps) < 2:
        raise BadInput(
            "One p-value alone is not many.",
            hint="Give all of a paper: steelyard compute tests 0.01 0.04 0.2",
        )
    require_error_rate(alpha)
    holm, rates = integrity_significance.adjust_p(ps)
    rows = tuple((text, show_p(a), show_p(b)) for text, a, b in zip(typed, holm, rates, strict=True))
    before, after = (sum(p <= alpha for p in some) for some in (ps, holm))
    finding = integrity_significance.check_multiplicity(len(ps), alpha=alpha)
    return Worked(
        "many tests",
        f"Of {len(ps)} tests {before} {'is' if before == 1 else 'are'} {alpha:g} or less alone, "
        f"{after} after Holm's correction.",
        (),
        (Grid("p-values for their number", ("p as printed", "Holm", "Benjamini-Hochberg"), rows),),
        finding.arithmetic if finding else (),
        (),
        (
            *((finding.text,) if finding else ()),
            "Holm guards against any false positive; Benjamini-Hochberg against more than that share of them.",
            "Tests that a paper made and did not print count too.",
        ),
    )
