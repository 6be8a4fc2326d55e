"""Tail areas and quantiles of the four distributions that intervals need, on scalars.

`scipy.special` is imported inside the functions: it is light next to `scipy.stats`, but not free at start-up.
Checked against printed tables in the tests of this module.
"""

from evidence.errors import NumberProblem


def normal_quantile(probability: float) -> float:
    """z with P(Z <= z) = probability."""
    from scipy.special import ndtri

    return float(ndtri(probability))


def normal_two_sided(z: float) -> float:
    """P(|Z| >= |z|)."""
    from scipy.special import ndtr

    return float(2.0 * ndtr(-abs(z)))


def t_quantile(probability: float, df: float) -> float:
    """t with P(T_df <= t) = probability; df > 0, not necessarily whole; infinite df is the normal."""
    from scipy.special import ndtri, stdtrit

    return float(ndtri(probability) if df == float("inf") else stdtrit(df, probability))


def t_two_sided(t: float, df: float) -> float:
    """P(|T_df| >= |t|)."""
    from scipy.special import ndtr, stdtr

    return float(2.0 * (ndtr(-abs(t)) if df == float("inf") else stdtr(df, -abs(t))))


def chi2_quantile(probability: float, df: float) -> float:
    """x with P(chi-square_df <= x) = probability."""
    from scipy.special import gammaincinv

    return float(2.0 * gammaincinv(df / 2.0, probability))


def chi2_tail(x: float, df: float) -> float:
    """P(chi-square_df >= x); 1 when df is 0, because then there is nothing to disagree."""
    from scipy.special import gammaincc

    return float(gammaincc(df / 2.0, max(x, 0.0) / 2.0)) if df > 0 else 1.0


def f_tail(x: float, df1: float, df2: float) -> float:
    """P(F_{df1, df2} >= x)."""
    from scipy.special import fdtrc

    return float(fdtrc(df1, df2, x))


def check_level(level: float) -> float:
    """Return the upper probability of a two-sided interval (0.975 for 0.95).

    Raises:
        NumberProblem: the level is not between 0 and 1.
    """
    if not 0.0 < level < 1.0:
        raise NumberProblem(
            f"A confidence level must lie between 0 and 1, not {level}.", hint="Give 0.95 for 95 %."
        )
    return 0.5 + level / 2.0
