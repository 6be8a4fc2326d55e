"""The calculator's pooling: a table of effects to one answer, with nesting respected."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evidence.errors import BadInput
from evidence.statistics.dependent_pooling import DependentPooled, pool_dependent, vary_correlation
from evidence.statistics.effect import derive
from evidence.statistics.heterogeneity import Array
from evidence.statistics.pooling import Pooled, common_effect, pool
from evidence.statistics.sensitivity import leave_one_out
from evidence.workflows.calculator.computing import Figure, Grid, Worked
from evidence.workflows.calculator.moderators import pool_groups, regress_table
from evidence.workflows.calculator.pool_tables import PoolQuestion, PoolTable, read_pool_table
from evidence.workflows.calculator.text import say_p, show_number

_REML = "Viechtbauer 2005 (REML)"
_KH = "Knapp & Hartung 2003; never narrower than the plain one"
IGNORED = (
    "Several results come from one study and were treated as independent, as asked: people are counted more than once, "
    "the interval is too narrow and p too small. Leave out --as-independent for the right answer."
)


def compute_pool(asked: PoolQuestion) -> Worked:
    """Pool a table: independent, or three-level with robust errors when a study repeats.

    Raises:
        BadInput, NumberProblem: what the table or the options do not allow.
    """
    table = read_pool_table(asked)
    if asked.by and asked.moderators:
        raise BadInput("--by and --moderator at once.", hint="Ask for one of them.")
    if asked.by:
        worked = pool_groups(table, asked)
    elif asked.moderators:
        worked = regress_table(table, asked)
    else:
        worked = _pool_all(table, asked)
    said = (IGNORED,) if table.repeats and asked.as_independent else ()
    return replace(
        worked,
        steps=(*table.steps, *worked.steps),
        cautions=(*said, *table.cautions, *worked.cautions),
        flagged=bool(said),
    )


def _pool_all(table: PoolTable, asked: PoolQuestion) -> Worked:
    y, v = np.array(table.estimates), np.array(table.variances)
    plain = _pool_plainly(y, v, asked)
    nested = table.repeats and not asked.as_independent
    if nested:
        assert table.studies is not None
        arms = (
            table.arms
            if table.arms and len(set(zip(table.studies, table.arms, strict=True))) < y.size
            else None
        )
        got = pool_dependent(y, v, table.studies, arm_ids=_unique_arms(table.studies, arms), rho=asked.rho)
        worked = _tell_dependent(table, got, plain)
        if asked.rho is None:
            worked = replace(worked, grids=(*worked.grids, _vary(table, y, v)))
    else:
        worked = _tell_pooled(table, plain)
    if asked.leave_one_out:
        worked = replace(worked, grids=(*worked.grids, _leave_out(table, nested, asked)))
    return worked


def _pool_plainly(y: Array, v: Array, asked: PoolQuestion) -> Pooled:
    return common_effect(y, v) if asked.tau2_method is None else pool(y, v, tau2_method=asked.tau2_method)


def _tell_pooled(table: PoolTable, got: Pooled) -> Worked:
    figures = [_effect_figure(table, "pooled effect", got.estimate, got.low, got.high, got.se)]
    if got.prediction_low is not None and got.prediction_high is not None:
        figures.append(
            _effect_figure(table, "a further study like these", None, got.prediction_low, got.prediction_high)
        )
    tau_low = None if got.tau2_low is None else math.sqrt(got.tau2_low)
    tau_high = None if got.tau2_high is None else math.sqrt(got.tau2_high)
    if got.model == "random":
        figures.append(Figure("spread between studies (tau)", got.tau, tau_low, tau_high))
    figures.append(Figure("I²", got.i2, unit="%"))
    answer = (
        f"{_count(got.k, 'result', 'results')}: {table.say(got.estimate, got.low, got.high)}, p {say_p(got.p)}; "
        f"Q = {show_number(got.q)} on {got.q_df} df, p {say_p(got.q_p)}."
    )
    w = "Cochrane Handbook 10.3"
    how = (
        f"{got.interval_method.replace('_', '-')}, {'normal' if got.df is None else f't with {got.df:g} df'}"
    )
    common = got.tau2_method is None
    reml = "maximum of the restricted likelihood" if got.tau2_method == "REML" else "estimator of that name"
    steps = (
        *(() if common else (derive(f"tau² ({got.tau2_method})", reml, _REML, got.tau2),)),
        derive("pooled effect", f"Σw·y/Σw, w = {'1/v' if common else '1/(v + tau²)'}", w, got.estimate),
        derive("standard error", how, _KH if "knapp" in got.interval_method else w, got.se),
    )
    rows = tuple(
        (label, *_display(table, y), 100 * share)
        for label, y, share in zip(table.labels, table.estimates, got.weights, strict=True)
    )
    grid = Grid("Studies", ("study", "effect", "weight %"), rows)
    notes = got.notes
    if tau_low is not None and tau_high is not None and not tau_low <= got.tau <= tau_high:
        notes += (
            "The spread lies outside its own interval: the two come from different methods, and these results do not "
            "follow the model well.",
        )
    return Worked("results pooled as independent", answer, tuple(figures), (grid,), steps, (), notes)


def _tell_dependent(table: PoolTable, got: DependentPooled, plain: Pooled) -> Worked:
    figures = [_effect_figure(table, "pooled effect", got.estimate, got.low, got.high, got.se)]
    if got.prediction_low is not None and got.prediction_high is not None:
        figures.append(
            _effect_figure(table, "a further study like these", None, got.prediction_low, got.prediction_high)
        )
    names = ("between studies", "between arms of a study", "between results of a study")
    levels = names if len(got.components) == 3 else (names[0], names[2])
    if got.way == "three_level":
        figures += [
            Figure(f"spread {name} (tau)", math.sqrt(one), unit="")
            for name, one in zip(levels, got.components, strict=True)
        ]
    wrong = table.say(plain.estimate, plain.low, plain.high)
    answer = (
        f"{got.k} results of {_count(got.k_studies, 'study', 'studies')}: "
        f"{table.say(got.estimate, got.low, got.high)}, p {say_p(got.p)}."
    )
    source = "Van den Noortgate et al. 2013; Pustejovsky & Tipton 2022"
    steps = [
        derive("variances of the levels", "maximum of the restricted likelihood", source, sum(got.components))
    ]
    if got.df is not None:
        steps.append(derive("degrees of freedom", "Satterthwaite, CR2", "Pustejovsky & Tipton 2018", got.df))
    said = (
        f"Treating all results as independent would have given {wrong}: that counts the people of a study once "
        "for every result."
    )
    rows = tuple((name, 100 * share) for name, share in zip(got.studies, got.weights, strict=True))
    grid = Grid("Studies", ("study", "weight %"), rows)
    return Worked(
        "results nested in studies", answer, tuple(figures), (grid,), tuple(steps), (), (*got.notes, said)
    )


def _vary(table: PoolTable, y: np.ndarray, v: np.ndarray) -> Grid:
    assert table.studies is not None
    rows = []
    for one in vary_correlation(y, v, table.studies):
        rows.append((f"{one.rho:g}", table.say(one.estimate, one.low, one.high)))
    return Grid("With the assumed correlation inside studies varied", ("rho", "pooled effect"), tuple(rows))


def _leave_out(table: PoolTable, nested: bool, asked: PoolQuestion) -> Grid:
    y, v = np.array(table.estimates), np.array(table.variances)
    rows = []
    if nested:
        assert table.studies is not None
        names = list(dict.fromkeys(table.studies))
        if len(names) < 3:
            raise BadInput("Leaving one study out needs at least three studies.", where="--leave-one-out")
        for name in names:
            keep = np.array([one != name for one in table.studies])
            one = pool_dependent(y[keep], v[keep], [s for s in table.studies if s != name], rho=asked.rho)
            rows.append((name, table.say(one.estimate, one.low, one.high)))
    else:
        for label, each in zip(table.labels, leave_one_out(y, v, tau2_method=asked.tau2_method), strict=True):
            rows.append((label, table.say(each.estimate, each.low, each.high)))
    return Grid("Leaving one out", ("without", "pooled effect"), tuple(rows))


def _unique_arms(studies: Sequence[str], arms: Sequence[str] | None) -> list[str] | None:
    if arms is None or len({*zip(studies, arms, strict=True)}) == len(set(studies)):
        return None
    return [f"{study}\n{arm}" for study, arm in zip(studies, arms, strict=True)]


def _effect_figure(
    table: PoolTable, name: str, value: float | None, low: float, high: float, se: float | None = None
) -> Figure:
    if not table.ratio:
        return Figure(name, value, low, high, "", se)
    return Figure(name, None if value is None else math.exp(value), math.exp(low), math.exp(high), "ratio")


def _display(table: PoolTable, value: float) -> tuple[float]:
    return (math.exp(value) if table.ratio else value,)


def _count(k: int, one: str, several: str) -> str:
    return f"{k} {one if k == 1 else several}"
