"""Figures against each other within one report: changes, percents, spreads, copies, people, conclusions."""

import math
from collections.abc import Mapping, Sequence

from evidence.statistics.effect import Summary, derive, require_measurable, require_people, require_share
from evidence.statistics.independent import pool_sd
from evidence.statistics.integrity import Finding, Severity, read_printed, read_spread, tell
from evidence.statistics.t_tests import t_from_p, two_sided_p

Figure = str | float


def check_change(before: Figure, after: Figure, change: Figure) -> Finding | None:
    """A printed mean change against after − before, rounding of all three allowed."""
    pre, post, printed = (read_printed(figure) for figure in (before, after, change))
    got = post.value - pre.value
    if abs(got - printed.value) <= pre.half_unit + post.half_unit + printed.half_unit:
        return None
    step = derive("change", "after − before", "arithmetic", float(got), before=pre.text, after=post.text)
    text = f"{pre.text} to {post.text} is a change of {float(got):+.6g}, printed is {printed.text}."
    if got * printed.value < 0:
        text += " The sign differs."
    text += " Different people at the two times, or an adjusted mean, would explain it."
    return tell("change", Severity.WARNING, text, step, before=before, after=after, change=change)


def check_percent(
    base: Figure, other: Figure, printed: Figure, *, both_percent: bool = False
) -> Finding | None:
    """C10: a printed percent against the printed means: relative to `base`, to `other`, or in points?

    `both_percent` says that the means are percentages themselves (such as %MVIC), so that points are
    possible.
    """
    a, b, said = (read_printed(figure) for figure in (base, other, printed))
    if a.value == 0 or b.value == 0:
        return None
    relative, reverse, points = (
        100 * (b.value / a.value - 1),
        100 * (a.value / b.value - 1),
        b.value - a.value,
    )
    slack = said.half_unit + abs(100 * b.value / a.value) * (
        a.half_unit / abs(a.value) + b.half_unit / abs(b.value)
    )
    claim = abs(said.value)
    if abs(claim - abs(relative)) <= slack:
        return None
    step = derive(
        "relative difference",
        "100·(other/base − 1)",
        "arithmetic",
        float(relative),
        base=a.text,
        other=b.text,
    )
    back = derive("the other way round", "100·(base/other − 1)", "arithmetic", float(reverse))
    text = f"{b.text} against {a.text} is {float(relative):+.1f} %, printed is {said.text}."
    if abs(claim - abs(reverse)) <= slack:
        text += f" It fits the other way round: {a.text} against {b.text} is {float(reverse):+.1f} %."
    elif both_percent and abs(claim - abs(points)) <= said.half_unit + a.half_unit + b.half_unit:
        text += f" It fits percentage points: {float(points):+.4g}."
    return tell("C10", Severity.WARNING, text, step, back, base=base, other=other, printed=printed)


def check_ratio_of_means(a: Figure, b: Figure, printed: Figure) -> Finding | None:
    """A printed ratio (in percent) against the means; a mean of individual ratios is only noted."""
    top, bottom, said = (read_printed(figure) for figure in (a, b, printed))
    if top.value <= 0 or bottom.value <= 0:
        return None  # a ratio needs means above 0
    got = 100 * top.value / bottom.value
    slack = said.half_unit + got * (top.half_unit / top.value + bottom.half_unit / bottom.value)
    if abs(got - said.value) <= slack:
        return None
    near = abs(got - said.value) <= got / 10
    step = derive("ratio of the means", "100·a/b", "arithmetic", float(got), a=top.text, b=bottom.text)
    text = f"the ratio of the printed means is {float(got):.1f} %, printed is {said.text}."
    if near:
        text += " A mean of individual ratios differs from the ratio of means; that would explain it."
    return tell("ratio", Severity.INFO if near else Severity.WARNING, text, step, a=a, b=b, printed=printed)


def check_two_spreads(first: Figure, second: Figure, n: int) -> Finding | None:
    """Two printed spreads of the same variable and people: is one the SD and one the SE?"""
    require_people(n, at_least=2)
    small, large = sorted((read_spread(first), read_spread(second)), key=lambda figure: figure.value)
    if large.value - small.value <= small.half_unit + large.half_unit:
        return None
    root = math.sqrt(n)
    grown = float(small.value) * root
    slack = float(small.half_unit) * root + float(large.half_unit)
    step = derive("SE as SD", "SE·√n", "Cochrane Handbook 6.5.2.2", grown, SE=small.text, n=n)
    text = f"the same figures are given with a spread of {small.text} and of {large.text}."
    if abs(grown - float(large.value)) <= slack:
        text += (
            f" {small.text}·√{n} = {grown:.3g}, so {large.text} is an SD and {small.text} a standard error."
        )
    return tell("C5", Severity.WARNING, text, step, first=first, second=second, n=n)


def check_spread(
    mean: float, sd: float, n: int, *, other_sds: Sequence[float] = (), unit: str = ""
) -> Finding | None:
    """C5: an SD that looks like a standard error.

    Flagged when it is less than half of the median SD of other studies of the outcome and SD·√n is near
    that median, or when mean/SD is above 15 (for a share of a maximum such as %MVIC: above 10). A small SD
    with other studies just as small is not flagged.
    """
    require_measurable(mean=mean, sd=sd)
    require_people(n, at_least=1)
    for other in other_sds:
        require_measurable(other_sd=other)
    if sd <= 0:
        return None
    grown = sd * math.sqrt(n)
    step = derive("SD if it is an SE", "SD·√n", "Kadlec 2023", grown, SD=sd, n=n)
    inputs = {"mean": mean, "SD": sd, "n": n}
    others = sorted(other for other in other_sds if other > 0)
    if others:
        middle = others[len(others) // 2] if len(others) % 2 else sum(others[len(others) // 2 - 1 :][:2]) / 2
        if sd < middle / 2 and abs(math.log(grown / middle)) <= math.log(1.5):
            text = (
                f"an SD of {sd:g} is less than half of what other studies find ({middle:g}); as a standard "
                f"error it would stand for an SD of {grown:.3g}. It looks like a standard error."
            )
            return tell("C5", Severity.WARNING, text, step, **inputs)
        if sd >= middle / 2:
            return None
    limit = 10 if "MVIC" in unit or "MVC" in unit else 15
    stature = (unit == "cm" and 120 < mean < 220) or (unit == "m" and 1.2 < mean < 2.2)
    if abs(mean) / sd > limit and not stature:
        text = (
            f"a mean of {mean:g} with an SD of {sd:g} is unusually even (mean/SD = {abs(mean) / sd:.3g}); as "
            f"a standard error it would stand for an SD of {grown:.3g}."
        )
        return tell("C5", Severity.WARNING, text, step, **inputs)
    return None


def check_spread_change(before: Figure, after: Figure) -> Finding | None:
    """An SD that halves or doubles between two times of the same people."""
    pre, post = float(read_printed(before).value), float(read_printed(after).value)
    if min(pre, post) <= 0 or abs(math.log(post / pre)) < math.log(2) - 0.01:
        return None
    step = derive("ratio of the spreads", "after/before", "common practice, no source", post / pre)
    text = f"the spread goes from {before} to {after} in the same people; a misprint, or one SD and one SE?"
    return tell("C5", Severity.WARNING, text, step, before=before, after=after)


def check_large_effect(smd: float) -> Finding | None:
    """C14: a standardised difference beyond 3 (most are an SE taken for an SD), beyond 5 to be confirmed."""
    require_measurable(standardised_difference=smd)
    if abs(smd) <= 3:
        return None
    severity = Severity.ERROR if abs(smd) > 5 else Severity.WARNING
    text = (
        f"a standardised difference of {smd:.3g} is very large; in published reviews most of those above 3 "
        "came from a standard error taken for an SD (Kadlec 2023)."
    )
    return tell("C14", severity, text, smd=f"{smd:g}")


def check_smd(a: Summary, b: Summary, printed: Figure) -> Finding | None:
    """C9: a printed SMD against the means and SDs: pooled SD with and without correction, or the SD of B."""
    said = read_printed(printed)
    pooled = pool_sd(a, b)
    if pooled == 0:
        return None
    d = (a.mean - b.mean) / pooled
    g = d * (1 - 3 / (4 * (a.n + b.n - 2) - 1))
    candidates = {"pooled SD": d, "pooled SD, corrected": g}
    if b.sd > 0:
        candidates["SD of B"] = (a.mean - b.mean) / b.sd
    if a.sd > 0:
        candidates["SD of A"] = (a.mean - b.mean) / a.sd
    slack = float(said.half_unit) + 0.03 * abs(d)
    if any(abs(abs(value) - abs(float(said.value))) <= slack for value in candidates.values()):
        return None
    shown = ", ".join(f"{name} {value:.2f}" for name, value in candidates.items())
    step = derive("Cohen's d", "(meanA − meanB)/SDpooled", "Cohen 1988", d)
    return tell("C9", Severity.WARNING, f"printed is an SMD of {said.text}; the means give {shown}.", step)


def check_people(analysed: int, recruited: int) -> Finding | None:
    """More people analysed than recruited."""
    require_people(analysed, at_least=0)
    require_people(recruited, at_least=0)
    if analysed <= recruited:
        return None
    text = f"{analysed} people were analysed but {recruited} recruited."
    return tell("n", Severity.ERROR, text, analysed=analysed, recruited=recruited)


def check_sum(total: Figure, parts: Sequence[Figure], *, percent: bool = False) -> Finding | None:
    """C17: parts that do not add up to their total (people), or percentages that do not add up to 100."""
    whole, pieces = read_printed(total), [read_printed(part) for part in parts]
    got = sum(piece.value for piece in pieces)
    slack = sum(piece.half_unit for piece in pieces) + whole.half_unit if percent else 0
    if abs(got - whole.value) <= slack:
        return None
    shown = " + ".join(piece.text for piece in pieces)
    step = derive("sum of the parts", shown, "arithmetic", float(got))
    return tell("C17", Severity.WARNING, f"{shown} = {float(got):g}, not {whole.text}.", step, total=total)


def check_counted_once(comparisons: Sequence[int], unique: int) -> Finding | None:
    """C16: people of several comparisons added up as if they were different ones."""
    for people in (*comparisons, unique):
        require_people(people, at_least=0)
    if sum(comparisons) <= unique:
        return None
    text = (
        f"{len(comparisons)} comparisons add up to {sum(comparisons)} people, but only {unique} different "
        "ones took part (shared control, several muscles or electrodes); each counts once."
    )
    return tell("C16", Severity.WARNING, text, sum=sum(comparisons), unique=unique)


def check_same_figure(places: Mapping[str, Sequence[Figure]]) -> Finding | None:
    """The same result printed in several places: all must agree within rounding."""
    names = list(places)
    for position, name in enumerate(names[1:], 1):
        for other in names[:position]:
            for one, two in zip(places[name], places[other], strict=False):
                a, b = read_printed(one), read_printed(two)
                # 0.07 and 0.06 could only both stand for 0.065 exactly, rounded once up and once down.
                if abs(a.value - b.value) >= a.half_unit + b.half_unit:
                    shown = "; ".join(f"{where}: {', '.join(map(str, places[where]))}" for where in names)
                    text = f"the same result is printed differently ({shown})."
                    return tell("same figure", Severity.WARNING, text)
    return None


def check_copies(rows: Mapping[str, Sequence[Figure]], *, digits: int = 8) -> tuple[Finding, ...]:
    """Rows of different things with the very same figures, at least `digits` digits long together."""
    seen: dict[tuple[str, ...], str] = {}
    findings = []
    for name, figures in rows.items():
        key = tuple(str(figure).strip() for figure in figures)
        long_enough = sum(character.isdigit() for figure in key for character in figure) >= digits
        if not long_enough or len(key) < 2:
            continue
        if key in seen:
            text = (
                f"{name} and {seen[key]} have exactly the same figures ({', '.join(key)}); copied by mistake?"
            )
            findings.append(tell("copies", Severity.WARNING, text))
        else:
            seen[key] = name
    return tuple(findings)


def check_marked_pair(
    a: tuple[float, float], b: tuple[float, float], n: int, *, marked: bool, alpha: float = 0.05
) -> Finding | None:
    """A significance mark on two conditions of the same people, (mean, SD) each, that hardly fits the
    figures.

    A marked pair is flagged when it would need a correlation above 0.9; an unmarked one when p would be
    below alpha even at r = 0.3.
    """
    require_share("error rate", alpha)
    require_people(n, at_least=2)
    for mean, sd in (a, b):
        require_measurable(mean=mean, sd=sd)
        read_spread(sd)
    gap = a[0] - b[0]
    needed_sd = abs(gap) * math.sqrt(n) / t_from_p(alpha, n - 1)
    product = 2 * a[1] * b[1]
    if product == 0:
        return None
    needed = (a[1] ** 2 + b[1] ** 2 - needed_sd**2) / product
    step = derive(
        "r needed", "(SDA² + SDB² − SDneeded²)/(2·SDA·SDB)", "paired t test", needed, SDneeded=needed_sd
    )
    if marked and needed > 0.9:
        text = (
            f"this pair is marked as different, which needs a correlation above {needed:.2f} within people."
        )
        return tell("mark", Severity.WARNING, text, step)
    if not marked and needed < 0.3:
        sd = math.sqrt(a[1] ** 2 + b[1] ** 2 - 0.3 * product)
        p = two_sided_p(gap * math.sqrt(n) / sd, n - 1)
        text = (
            f"this pair is not marked as different, though p would be about {p:.2g} at a correlation of 0.3."
        )
        return tell("mark", Severity.WARNING, text, step)
    return None


def check_test_against_design(test: str, *, same_people: bool) -> Finding | None:
    """A test for different people on a study of the same people, or the reverse."""
    name = test.strip().lower()
    between = ("kruskal", "mann-whitney", "mann–whitney", "independent t", "unpaired", "two-sample")
    within = ("friedman", "wilcoxon signed", "paired t", "repeated measures", "repeated-measures", "mcnemar")
    if same_people and any(word in name for word in between):
        text = f"{test} treats the results as those of different people; the same people need a paired test."
        return tell("design", Severity.WARNING, text, test=test)
    if not same_people and any(word in name for word in within):
        text = f"{test} is for the same people measured repeatedly; these are different people."
        return tell("design", Severity.WARNING, text, test=test)
    return None
