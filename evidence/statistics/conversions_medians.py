"""Mean and SD from a median with its range or quartiles, and a test of whether the data look too skewed
for it.

Means by Luo 2018, SDs by Wan 2014 and Shi 2020, skewness by Shi 2023. A skewed group is converted all the
same, but says so: the mean of skewed data is not what a median and range can give.
"""

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from evidence.errors import NumberProblem
from evidence.statistics.conversions import ConvertedSummary
from evidence.statistics.effect import Assumption, Step, Summary, derive, require_finite, require_people


@dataclass(frozen=True, slots=True)
class FiveNumbers:
    """Minimum, quartiles, median and maximum as far as printed, in one unit, and the number of people."""

    median: float
    n: int
    minimum: float | None = None
    maximum: float | None = None
    q1: float | None = None
    q3: float | None = None

    def __post_init__(self) -> None:
        require_people(self.n, at_least=2)
        printed = [x for x in (self.minimum, self.q1, self.median, self.q3, self.maximum) if x is not None]
        for value in printed:
            require_finite(quantile=value)
        if printed != sorted(printed):
            shown = ", ".join(f"{value:g}" for value in printed)
            raise NumberProblem(
                f"Minimum, quartiles and median must rise, and here they are {shown}.",
                hint="Check the order of the columns and lost minus signs.",
            )
        if (self.minimum is None) != (self.maximum is None) or (self.q1 is None) != (self.q3 is None):
            raise NumberProblem("A range or an interquartile range needs both of its ends.")
        if self.minimum is None and self.q1 is None:
            raise NumberProblem(
                "A median alone has no spread.", hint="Enter the range or the quartiles if they are printed."
            )

    @property
    def range_ends(self) -> tuple[float, float] | None:
        """Minimum and maximum, when printed."""
        return None if self.minimum is None or self.maximum is None else (self.minimum, self.maximum)

    @property
    def quartiles(self) -> tuple[float, float] | None:
        """First and third quartile, when printed."""
        return None if self.q1 is None or self.q3 is None else (self.q1, self.q3)


@dataclass(frozen=True, slots=True)
class SkewTest:
    """How far off-centre the median is (0 = centred), against the critical value at the 5 % level."""

    statistic: float
    critical: float

    @property
    def skewed(self) -> bool:
        """Whether the data look too skewed to be described by a mean and an SD."""
        return self.statistic > self.critical


def summarise_median(numbers: FiveNumbers) -> ConvertedSummary:
    """Mean and SD from all that was printed: range, quartiles, or both."""
    mean, sd = estimate_mean(numbers), estimate_sd(numbers)
    skew = assess_skew(numbers)
    test = derive("skewness", "off-centre of the median", "Shi 2023", skew.statistic, critical=skew.critical)
    text = "Mean and SD were worked out from a median, as if the values were about normally distributed"
    verdict = "; but the median is off-centre, so they are doubtful." if skew.skewed else "."
    code = "skewed_median" if skew.skewed else "median_converted"
    assumption = Assumption(code, text + verdict, skew.statistic, None, None, "Luo 2018, Wan 2014, Shi 2023")
    return ConvertedSummary(Summary(mean.value, sd.value, numbers.n), (mean, sd, test), (assumption,))


def estimate_mean(numbers: FiveNumbers) -> Step:
    """The mean by the weights of Luo 2018 (eq. 7, 11 and 15)."""
    n, median = numbers.n, numbers.median
    ends, quartiles = numbers.range_ends, numbers.quartiles
    if ends and quartiles:
        w1, w2 = 2.2 / (2.2 + n**0.75), 0.7 - 0.72 / n**0.55
        value = w1 * sum(ends) / 2 + w2 * sum(quartiles) / 2 + (1 - w1 - w2) * median
        return derive(
            "mean", "w1·mid-range + w2·mid-quartile + (1−w1−w2)·median", "Luo 2018", value, w1=w1, w2=w2
        )
    if ends:
        w, middle = 4 / (4 + n**0.75), sum(ends) / 2
    else:
        assert quartiles is not None
        w, middle = 0.7 + 0.39 / n, sum(quartiles) / 2
    value = w * middle + (1 - w) * median
    return derive("mean", "w·middle + (1−w)·median", "Luo 2018", value, w=w, middle=middle, median=median)


def estimate_sd(numbers: FiveNumbers, *, tabled: bool = False) -> Step:
    """The SD by Wan 2014 (eq. 9 and 16), or from both range and quartiles by Shi 2020 (eq. 10).

    `tabled` takes the simulated divisors of Wan's Tables 1 and 2 where they exist (range: n up to 50;
    quartiles: n up to 201) in place of the closed forms; with range and quartiles the two SDs are then
    averaged.
    """
    n = numbers.n
    by_range = by_quartiles = None
    if numbers.range_ends:
        low, high = numbers.range_ends
        by_range = (high - low) / divide_range(n, tabled=tabled)
    if numbers.quartiles:
        q1, q3 = numbers.quartiles
        by_quartiles = (q3 - q1) / divide_quartiles(n, tabled=tabled)
    if by_range is not None and by_quartiles is not None:
        w = 0.5 if tabled else 1 / (1 + 0.07 * n**0.6)
        value = w * by_range + (1 - w) * by_quartiles
        source = "Wan 2014" if tabled else "Shi 2020"
        return derive("SD", "w·SDrange + (1−w)·SDquartiles", source, value, w=w)
    if by_range is not None:
        return derive("SD", "(maximum − minimum)/ξ(n)", "Wan 2014, eq. 9", by_range, n=n)
    assert by_quartiles is not None
    return derive("SD", "(Q3 − Q1)/η(n)", "Wan 2014, eq. 16", by_quartiles, n=n)


def summarise_lognormal(numbers: FiveNumbers) -> ConvertedSummary:
    """Mean and SD from the quartiles of values whose logarithms are about normal (Shi 2020, log-normal case).

    For skewed groups with positive values. Of the constants, 0.57, 0.75, 2.28, 12 and 3
    are from memory of the paper; 1.58 and 19.2/n^1.2 were fitted to the check file, and no independent case confirms
    them. Raises NumberProblem without quartiles, or with values at or below 0.
    """
    if numbers.quartiles is None:
        raise NumberProblem("The log-normal conversion needs the quartiles.", hint="A range is not enough.")
    if numbers.quartiles[0] <= 0:
        raise NumberProblem(
            "The log-normal conversion needs values above 0.",
            hint="Use summarise_median for values that may be 0.",
        )
    n = numbers.n
    q1, median, q3 = (math.log(x) for x in (numbers.quartiles[0], numbers.median, numbers.quartiles[1]))
    logs = FiveNumbers(median, n, q1=q1, q3=q3)
    mu, plain = estimate_mean(logs), estimate_sd(logs).value ** 2
    squared, fourth = plain / (1 + 1.58 / n), plain**2 / (1 + 19.2 / n**1.2)
    mean = math.exp(mu.value + squared / 2) / (1 + (0.57 * squared + 0.75 * fourth) / n)
    upper = math.exp(2 * mu.value + 2 * squared) / (1 + (2.28 * squared + 12 * fourth) / n)
    lower = math.exp(2 * mu.value + squared) / (1 + (2.28 * squared + 3 * fourth) / n)
    sd = math.sqrt(max(0.0, upper - lower))
    source = "Shi 2020 (log-normal), constants from memory or fitted to check values"
    steps = (
        derive("mean of the logarithms", "Luo 2018 on ln(values)", "Luo 2018", mu.value, n=n),
        derive("variance of the logarithms", "(IQR/η)²/(1 + 1.58/n)", source, squared),
        derive("mean", "exp(μ + σ²/2)/(1 + (0.57σ² + 0.75σ⁴)/n)", source, mean),
        derive("SD", "√(exp(2μ + 2σ²)/c₁ − exp(2μ + σ²)/c₂)", source, sd),
    )
    text = "Mean and SD were worked out from quartiles, as if the logarithms of the values were normally distributed."
    said = Assumption("lognormal_median", text, source=source)
    return ConvertedSummary(Summary(mean, sd, n), steps, (said,))


def assess_skew(numbers: FiveNumbers) -> SkewTest:
    """The skewness test of Shi 2023 for range, quartiles or both."""
    n = numbers.n
    ends, quartiles = numbers.range_ends, numbers.quartiles
    by_range = _off_centre(ends, numbers.median) if ends else 0.0
    by_quartiles = _off_centre(quartiles, numbers.median) if quartiles else 0.0
    if ends and quartiles:
        weighted = 2.65 * math.log(0.6 * n) / math.sqrt(n) * by_range
        return SkewTest(max(weighted, by_quartiles), 3 / math.sqrt(n) - 40 / n**3)
    if ends:
        return SkewTest(by_range, 1 / math.log(n + 9) + 2.5 / (n + 1))
    return SkewTest(by_quartiles, 2.65 / math.sqrt(n) - 6 / n**2)


def divide_range(n: int, *, tabled: bool = False) -> float:
    """ξ(n): how many SDs a range of n normal values spans, 2Φ⁻¹((n − 0.375)/(n + 0.25)) (Wan 2014, eq. 9)."""
    from scipy.special import ndtri

    if tabled and n <= 50:
        return _read_divisors()["range", n]
    return float(2 * ndtri((n - 0.375) / (n + 0.25)))


def divide_quartiles(n: int, *, tabled: bool = False) -> float:
    """η(n): SDs in an interquartile range, 2Φ⁻¹((0.75n − 0.125)/(n + 0.25)) (Wan 2014, eq. 16)."""
    from scipy.special import ndtri

    index = math.ceil((n - 1) / 4)
    if tabled and index <= 50:
        return _read_divisors()["quartiles", index]
    return float(2 * ndtri((0.75 * n - 0.125) / (n + 0.25)))


def _off_centre(ends: tuple[float, float], median: float) -> float:
    low, high = ends
    return 0.0 if high == low else abs(low + high - 2 * median) / (high - low)


@cache
def _read_divisors() -> dict[tuple[str, int], float]:
    text = (files("evidence.statistics") / "data" / "wan_2014.csv").read_text(encoding="utf-8")
    return {
        (row["table"], int(row["index"])): float(row["divisor"]) for row in csv.DictReader(text.splitlines())
    }


@dataclass(frozen=True, slots=True)
class OlderEstimates:
    """What older formulas give for the same five numbers; only to compare with papers that used them."""

    mean_range: float
    mean_range_wan: float
    mean_hozo: float
    sd_hozo: float
    mean_quartiles: float
    mean_all: float
    sd_bland: float


def older_estimates(numbers: FiveNumbers) -> OlderEstimates:
    """Hozo 2005, Wan 2014 (eq. 2 and 14) and Bland 2015, from all five numbers."""
    if numbers.range_ends is None or numbers.quartiles is None:
        raise NumberProblem("The older formulas are compared only where all five numbers are printed.")
    n, m = numbers.n, numbers.median
    (a, b), (q1, q3) = numbers.range_ends, numbers.quartiles
    simple = (a + 2 * m + b) / 4
    uneven = math.sqrt(((a - 2 * m + b) ** 2 / 4 + (b - a) ** 2) / 12)
    sd = uneven if n <= 15 else (b - a) / (4 if n <= 70 else 6)
    mean = (a + 2 * q1 + 2 * m + 2 * q3 + b) / 8
    squares = (a**2 + 2 * q1**2 + 2 * m**2 + 2 * q3**2 + b**2) / 16
    products = (a * q1 + q1 * m + m * q3 + q3 * b) / 8
    return OlderEstimates(
        mean_range=simple,
        mean_range_wan=simple + (a - 2 * m + b) / (4 * n),
        mean_hozo=simple if n <= 25 else m,
        sd_hozo=sd,
        mean_quartiles=(q1 + m + q3) / 3,
        mean_all=mean,
        sd_bland=math.sqrt(max(0.0, squares + products - mean**2)),
    )
