"""The calculator's moderators: do effects differ between groups of studies, or along a property of them?"""

from collections.abc import Sequence

import numpy as np

from evidence.errors import BadInput
from evidence.statistics.dependent_regression import regress_dependent
from evidence.statistics.effect import derive
from evidence.statistics.regression import code_groups, compare_subgroups, regress
from evidence.workflows.calculator.computing import Grid, Worked
from evidence.workflows.calculator.pool_tables import PoolQuestion, PoolTable
from evidence.workflows.calculator.text import say_p, show_number, show_p


def pool_groups(table: PoolTable, asked: PoolQuestion) -> Worked:
    """Pool each group of the column asked for, and test whether the groups differ."""
    heading = table.sheet.find("", asked.by)
    assert heading is not None
    groups = table.sheet.columns[heading]
    if "" in groups:
        line = table.sheet.lines[groups.index("")]
        raise BadInput(
            f"The column {heading} is empty.", where=f"{table.name}, line {line}", hint="Name the group."
        )
    if len(set(groups)) < 2:
        raise BadInput(
            f"The column {heading} holds one group only.", where="--by", hint="Choose another column."
        )
    if table.repeats and not asked.as_independent:
        return _regress_groups(table, heading, groups, asked)
    got = compare_subgroups(table.estimates, table.variances, groups, tau2_method=asked.tau2_method)
    rows = tuple(
        (name, one.k, table.say(one.estimate, one.low, one.high))
        for name, one in zip(got.names, got.groups, strict=True)
    )
    test = got.test
    size = f"chi² = {show_number(test.statistic)}, {test.df1} df"
    answer = f"The groups of {heading} differ with p {say_p(test.p)} ({size})."
    step = derive(
        "test between groups", "Σw(y − mean)²", "Borenstein & Higgins 2013", test.statistic, df=test.df1
    )
    return Worked(
        f"results by {heading}",
        answer,
        (),
        (Grid("", (heading, "results", "pooled effect"), rows),),
        (step,),
        (),
        (*got.notes, _BETWEEN),
    )


_BETWEEN = (
    "A difference between groups of studies is an observation, not an experiment: the studies differ in other "
    "things too."
)


def _regress_groups(table: PoolTable, heading: str, groups: Sequence[str], asked: PoolQuestion) -> Worked:
    assert table.studies is not None
    names = sorted(set(groups))
    columns = {name: [float(one == name) for one in groups] for name in names}
    got = regress_dependent(
        table.estimates, table.variances, table.studies, columns, intercept=False, rho=asked.rho
    )
    test = regress_dependent(
        table.estimates, table.variances, table.studies, code_groups("", groups), rho=asked.rho
    ).test
    rows = tuple(
        (one.name, groups.count(one.name), table.say(one.estimate, one.low, one.high))
        for one in got.coefficients
    )
    answer = "There are too few studies to test whether the groups differ."
    if test is not None:
        answer = (
            f"The groups of {heading} differ with p {say_p(test.p)} (F = {show_number(test.f)} on {test.df1} and "
            f"{show_number(test.df2)} df)."
        )
    step = derive("variances left", "three-level REML, CR2", "Pustejovsky & Tipton 2022", sum(got.components))
    return Worked(
        f"nested results by {heading}",
        answer,
        (),
        (Grid("", (heading, "results", "pooled effect"), rows),),
        (step,),
        (),
        (*got.notes, _BETWEEN),
    )


def regress_table(table: PoolTable, asked: PoolQuestion) -> Worked:
    """Regress the effects on the columns asked for; words become groups."""
    columns: dict[str, Sequence[float] | np.ndarray] = {}
    for wanted in asked.moderators:
        heading = table.sheet.find("", wanted)
        assert heading is not None
        if table.sheet.are_numbers(heading):
            columns[heading] = table.sheet.numbers(heading)
        elif len(set(table.sheet.columns[heading])) < len(table.sheet.lines):
            columns |= code_groups(f"{heading}: ", table.sheet.columns[heading])
        else:
            table.sheet.numbers(heading)  # tells which cell is no number
    if table.repeats and not asked.as_independent:
        assert table.studies is not None
        nested = regress_dependent(table.estimates, table.variances, table.studies, columns, rho=asked.rho)
        coefficients, notes, left = nested.coefficients, nested.notes, sum(nested.components)
        source = "Pustejovsky & Tipton 2022 (three-level, CR2)"
        joint = f"All moderators together: p {say_p(nested.test.p)}." if nested.test else ""
    else:
        got = regress(table.estimates, table.variances, columns, tau2_method=asked.tau2_method)
        coefficients, notes, left = got.coefficients, got.notes, got.tau2
        source = "Viechtbauer 2010; Knapp & Hartung 2003"
        joint = f"All moderators together: p {say_p(got.test.p)}." if got.test else ""
        if got.r2 is not None:
            joint += f" They account for {show_number(got.r2)} % of the spread between studies."
    rows = tuple((c.name, c.estimate, c.low, c.high, show_p(c.p)) for c in coefficients)
    scale = "log scale" if table.ratio else "scale of the estimates"
    grid = Grid(f"Coefficients ({scale})", ("moderator", "per unit", "low", "high", "p"), rows)
    step = derive("tau² left", "maximum of the restricted likelihood", source, left)
    return Worked(
        "effects against moderators",
        joint or "One coefficient.",
        (),
        (grid,),
        (step,),
        (),
        (*notes, _BETWEEN),
    )
