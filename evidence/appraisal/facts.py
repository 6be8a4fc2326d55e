"""Facts about a body of evidence that the rules of confidence ask for: one mapping per domain.

Nothing is decided here. A published summary can be written as the same facts, which is how rule sets are
checked against their own sources.
"""

from collections.abc import Mapping, Sequence
from statistics import median
from typing import Any

from evidence.appraisal.body import Body, Contribution
from evidence.appraisal.imprecision import gather_imprecision
from evidence.appraisal.rulebook import Fact, Facts, load_rules
from evidence.errors import BadInput

DOMAINS = ("risk_of_bias", "inconsistency", "indirectness", "imprecision", "publication_bias")
Settings = Mapping[str, Any]
ACTIVATION = "activation"
EVEN = 1e-9  # an estimate this near to zero points neither way


def read_settings(given: Settings | None) -> dict[str, Any]:
    """The default settings with the given ones laid over them. Raises BadInput for an unknown setting."""
    settings = dict(load_rules("default")["settings"])
    for name, value in (given or {}).items():
        if name not in settings:
            raise BadInput(f"no setting is called {name!r}", hint=f"There are: {', '.join(settings)}.")
        settings[name] = value
    return settings


def gather_facts(body: Body, settings: Settings) -> dict[str, Facts]:
    """Domain -> facts."""
    return {
        "risk_of_bias": gather_bias(body),
        "inconsistency": gather_inconsistency(body, settings),
        "indirectness": gather_indirectness(body, settings),
        "imprecision": gather_imprecision(body, settings),
        "publication_bias": gather_publication(body),
    }


def share_out(contributions: Sequence[Contribution]) -> list[float]:
    """Each contribution's share of the information: its pooled weight where all have one, else its people."""
    if not contributions:
        return []
    if all(c.weight is not None for c in contributions if c.has_interval):
        amounts = [c.weight or 0.0 for c in contributions]
    else:
        amounts = [float(c.n) for c in contributions]
    total = sum(amounts)
    if total <= 0:
        return [1 / len(contributions)] * len(contributions)
    return [amount / total for amount in amounts]


def gather_bias(body: Body) -> dict[str, Fact]:
    """Shares of the information by risk of bias; whether dropping high-risk studies changes the verdict."""
    shares = share_out(body.contributions)
    by_word: dict[str, float] = {}
    for c, share in zip(body.contributions, shares, strict=True):
        by_word[c.bias] = by_word.get(c.bias, 0.0) + share
    high = [c.high_domains for c in body.contributions if c.bias == "high"]
    scores = [c.score for c in body.contributions if c.score is not None]
    low = round(by_word.get("low", 0.0), 9)
    robins = bool(body.contributions) and all(c.bias_tool == "ROBINS-I" for c in body.contributions)
    return {
        "n_assessed": sum(c.bias != "not assessed" for c in body.contributions),
        "share_low": low,
        "share_high": round(by_word.get("high", 0.0), 9),
        "share_not_assessed": round(by_word.get("not assessed", 0.0), 9),
        "share_unclear": round(by_word.get("some concerns", 0.0) + by_word.get("not assessed", 0.0), 9),
        "share_not_low": round(1 - low, 9),
        "typical_high_domains": median(high) if high else 0,
        "exclusion_changes": _exclusion_changes(body),
        "median_score": median(scores) if scores else None,
        "robins": _robins_word(by_word) if robins else None,
    }


def _robins_word(by_word: Mapping[str, float]) -> str:
    """The least favourable ROBINS-I word that, with all worse ones, holds more than half the information."""
    held = 0.0
    for word in ("critical", "serious", "no information", "moderate"):
        held += by_word.get(word, 0.0)
        if held > 0.5:
            return word
    return "low"


def _exclusion_changes(body: Body) -> bool | None:
    if body.pooled is None or body.without_high_risk is None:
        return None
    return _side(body.pooled.low, body.pooled.high) != _side(
        body.without_high_risk.low, body.without_high_risk.high
    )


def _side(low: float, high: float) -> int:
    return 1 if low > 0 else -1 if high < 0 else 0


def gather_inconsistency(body: Body, settings: Settings) -> dict[str, Fact]:
    """How much results differ: I2 and every band that holds it, directions, overlap, prediction interval."""
    pooled = body.pooled
    pooled_ones = body.with_interval
    estimates = [c.estimate for c in pooled_ones if c.estimate is not None]
    more, less = sum(e > EVEN for e in estimates), sum(e < -EVEN for e in estimates)
    k = pooled.k if pooled else len(body.estimates)
    i2 = pooled.i2 if pooled and k >= 2 else None
    return {
        "k": k,
        "i2": None if i2 is None else round(i2, 6),
        "bands": name_bands(i2),
        "tau2": None if pooled is None or pooled.tau2 is None else round(pooled.tau2, 9),
        "same_direction": not (more and less),
        "directions": _tell_directions(more, less, len(estimates) - more - less),
        "similar": _overlap(pooled_ones),
        "pi_crosses": _prediction_crosses(body),
        "single_study": settings["single_study"],
        "credible_subgroup": body.credible_subgroup,
    }


def _tell_directions(more: int, less: int, even: int) -> str:
    told = f"{more} in favour of the exercise, {less} of the comparator"
    return f"{told}, {even} of neither" if even else told


def name_bands(i2: float | None) -> str:
    """Every published band that holds an I2; the bands overlap on purpose (Cochrane Handbook)."""
    if i2 is None:
        return ""
    bands = (
        (0, 40, "might not matter"),
        (30, 60, "moderate"),
        (50, 90, "substantial"),
        (75, 100, "considerable"),
    )
    return " or ".join(name for low, high, name in bands if low <= i2 <= high)


def _overlap(contributions: Sequence[Contribution]) -> bool:
    """Whether all intervals share a point: results are then taken as similar."""
    lows = [c.low for c in contributions if c.low is not None]
    highs = [c.high for c in contributions if c.high is not None]
    return bool(lows) and max(lows) <= min(highs)


def _prediction_crosses(body: Body) -> bool | None:
    pooled = body.pooled
    if pooled is None or pooled.prediction_low is None or pooled.prediction_high is None or pooled.k < 5:
        return None
    clear = pooled.low > 0 or pooled.high < 0
    return clear and pooled.prediction_low < 0 < pooled.prediction_high


def gather_indirectness(body: Body, settings: Settings) -> dict[str, Fact]:
    """Which respects are serious or minor for most of the information; surrogate outcomes."""
    shares = share_out(body.contributions)
    majority = settings["majority"]
    serious: dict[str, float] = {}
    minor: dict[str, float] = {}
    reasons: dict[str, str] = {}
    surrogate = activation = common = 0.0
    for c, share in zip(body.contributions, shares, strict=True):
        surrogate += share * (c.construct != body.construct)
        activation += share * (c.construct == ACTIVATION and body.construct != ACTIVATION)
        common += share * c.via_common_comparator
        worst = {i.dimension: i for i in sorted(c.indirectness, key=lambda i: i.level == "serious")}
        for dimension, item in worst.items():
            shelf = serious if item.level == "serious" else minor
            shelf[dimension] = shelf.get(dimension, 0.0) + share
            reasons.setdefault(dimension, item.reason)
    serious_ones = [d for d in serious if serious[d] > majority]
    either = {d: serious.get(d, 0.0) + minor.get(d, 0.0) for d in (*serious, *minor)}
    minor_ones = [d for d in either if d not in serious_ones and either[d] > majority]
    in_part = [d for d in either if d not in serious_ones and d not in minor_ones]
    measured = sorted({c.construct for c in body.contributions} - {body.construct})
    return {
        "construct": name_construct(body.construct),
        "measured": " and ".join(map(name_construct, measured)),
        "surrogate": surrogate > majority,
        "activation_for_other": activation > majority,
        "via_common": common > majority,
        "serious": len(serious_ones),
        "serious_list": "; ".join(f"{d} ({reasons[d]})" for d in serious_ones),
        "minor": len(minor_ones),
        "minor_list": "; ".join(f"{d} ({reasons[d]})" for d in minor_ones),
        "in_part": "; ".join(f"{d} ({reasons[d]})" for d in in_part),
    }


def name_construct(construct: str) -> str:
    """A construct as people call it: `muscle growth` for hypertrophy."""
    row = load_rules("wording")["subjects"].get(construct)
    return row["alone"].removeprefix("the ") if row else construct.replace("_", " ")


def gather_publication(body: Body) -> dict[str, Fact]:
    """What can be said of results that were never published."""
    k = body.pooled.k if body.pooled else len(body.estimates)
    small = [c for c in body.contributions if c.n < 50]
    return {
        "k": k,
        "k_word": "study" if k == 1 else "studies",
        "small_study_p": body.small_study_p,
        "unpublished": body.unpublished,
        "small_industry": bool(small)
        and len(small) == len(body.contributions)
        and all(c.industry_funded for c in small),
    }
