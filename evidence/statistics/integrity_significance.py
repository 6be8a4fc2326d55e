"""Checks of significance: one that is and one that is not, changes within groups only, and many tests at once."""

import math
from collections.abc import Sequence

from evidence.errors import NumberProblem
from evidence.statistics.effect import derive, require_measurable, require_people, require_share
from evidence.statistics.integrity import Finding, Severity, read_p, tell
from evidence.statistics.t_tests import two_sided_p

Figure = str | float


def check_difference_of_significance(
    first: tuple[float, float],
    second: tuple[float, float],
    *,
    direct_test: bool = False,
    alpha: float = 0.05,
) -> Finding | None:
    """C11: one result significant and the other not, without a direct comparison: (estimate, SE) of both.

    Shows the direct comparison of independent estimates, z = (e1 − e2)/√(se1² + se2²) (Altman & Bland 2003).
    """
    require_share("error rate", alpha)
    for estimate, se in (first, second):
        require_measurable(estimate=estimate, standard_error=se)
        if se <= 0:
            raise NumberProblem(f"A standard error of {se:g} cannot be compared by: it must be above 0.")
    ps = [two_sided_p(estimate / se) for estimate, se in (first, second)]
    if direct_test or (ps[0] <= alpha) == (ps[1] <= alpha):
        return None
    z = (first[0] - second[0]) / math.hypot(first[1], second[1])
    p = two_sided_p(z)
    if p <= alpha:
        return None
    step = derive("direct comparison", "z = (e1 − e2)/√(se1² + se2²)", "Altman & Bland 2003", z, p=p)
    text = (
        f"one result is significant (p = {min(ps):.2g}) and the other not (p = {max(ps):.2g}), but the two "
        f"do not differ clearly from each other (p = {p:.2g})."
    )
    return tell("C11", Severity.WARNING, text, step, first=first, second=second)


def check_within_group_p(
    p_a: Figure, p_b: Figure, *, between_p: Figure | None = None, alpha: float = 0.05
) -> Finding | None:
    """C11/C12: a conclusion from p within each group, where the groups were not shown to differ.

    A p may be a bound as printed: "<0.05", ">0.05". One that lies on neither side of alpha decides nothing.
    """
    require_share("error rate", alpha)
    a, b = _reaches(p_a, alpha), _reaches(p_b, alpha)
    between = None if between_p is None else _reaches(between_p, alpha)
    if a is None or b is None or a == b or between:
        return None
    known = "no test between them is given" if between_p is None else f"between them {_show_p(between_p)}"
    one, other = (p_a, p_b) if a else (p_b, p_a)
    text = (
        f"one group changed significantly ({_show_p(one)}), the other not "
        f"({_show_p(other)}); {known}. One did and one did not: that is no difference between them."
    )
    return tell("C11", Severity.WARNING, text, p_A=p_a, p_B=p_b)


def _reaches(p: Figure, alpha: float) -> bool | None:
    """Whether a printed p is significant; None where its bound leaves that open."""
    sign, value = _part_p(p)
    if sign == "<":
        return True if value <= alpha else None
    if sign == ">":
        return False if value >= alpha else None
    return value <= alpha


def _show_p(p: Figure) -> str:
    sign, value = _part_p(p)
    return f"p {sign or '='} {value:.2g}"


def _part_p(p: Figure) -> tuple[str, float]:
    """The sign before a printed p ("" where there is none) and its figure."""
    sign = p[0] if isinstance(p, str) and p[:1] in ("<", ">") else ""
    return sign, float(read_p(str(p)[len(sign) :]).value)


def check_within_group_only(*, compared_between: bool, arms: int) -> Finding | None:
    """C12: evidence that is only before against after within each arm."""
    if compared_between or arms < 2:
        return None
    text = "only changes within each group are reported; a comparison of the groups is needed (Kadlec 2023)."
    return tell("C12", Severity.WARNING, text, arms=arms)


def check_multiplicity(tests: int, *, alpha: float = 0.05, corrected: bool = False) -> Finding | None:
    """C13: how many false positives a number of tests would give by chance alone (independent tests)."""
    if corrected or tests < 5:
        return None
    expected, anyone = expect_false_positives(tests, alpha)
    step = derive("chance of any false positive", "1 − (1 − α)^m", "independent tests", anyone, m=tests)
    many = "false positive" if f"{expected:.2g}" == "1" else "false positives"
    text = (
        f"where there is nothing to find, {tests} tests at {alpha:g} give {expected:.2g} {many} on average, and at "
        f"least one with a chance of {100 * anyone:.0f} %."
    )
    return tell("C13", Severity.INFO, text, step, tests=tests)


def expect_false_positives(tests: int, alpha: float = 0.05) -> tuple[float, float]:
    """Expected number of false positives, and the chance of at least one, for independent tests."""
    require_share("error rate", alpha)
    require_people(tests, at_least=0, name="the number of tests")
    return tests * alpha, 1 - (1 - alpha) ** tests


def adjust_p(ps: Sequence[float]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """p-values adjusted for being many: Holm (1979), and Benjamini & Hochberg (1995), in the given order."""
    for p in ps:
        read_p(p)
    order = sorted(range(len(ps)), key=lambda i: ps[i])
    m = len(ps)
    holm, hochberg = [0.0] * m, [0.0] * m
    running = 0.0
    for rank, i in enumerate(order):
        running = max(running, min(1.0, (m - rank) * ps[i]))
        holm[i] = running
    running = 1.0
    for rank in range(m - 1, -1, -1):
        running = min(running, m / (rank + 1) * ps[order[rank]])
        hochberg[order[rank]] = running
    return tuple(holm), tuple(hochberg)
