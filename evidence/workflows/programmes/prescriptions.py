"""A prescription as text: what was read, said in one way."""

from evidence.reading.programme_model import Effort, Load, Pick, Range

PERCENT_OF = {"1RM": "1RM", "TM": "training max", "bodyweight": "body weight"}


def tell_prescription(pick: Pick) -> dict[str, str]:
    """Sets, repetitions, load, effort, rest and tempo as text; empty where nothing is prescribed."""
    p = pick.prescription
    sets = tell_range((p.sets, p.sets_high)) if p.sets is not None else ""
    reps = ""
    if p.reps is not None:
        reps = tell_range(p.reps) + ("+" if p.reps_open or p.reps[1] is None else "")
    elif p.reps_open:
        reps = "as many as possible"
    elif p.time_s is not None:
        reps = f"{tell_range(p.time_s)} s"
    elif p.distance_m is not None:
        reps = f"{p.distance_m:g} m"
    elif p.reps_total is not None:
        reps = f"{p.reps_total} in total"
    if reps and p.side == "each":
        reps += " each side"
    if p.set_kind:
        sets = f"{sets} ({p.set_kind})".strip()
    return {
        "sets": sets,
        "reps": reps,
        "load": tell_load(p.load) if p.load else "",
        "effort": tell_effort(p.effort) if p.effort else "",
        "rest": tell_rest(p.rest_s) if p.rest_s else "",
        "tempo": "-".join(p.tempo) if p.tempo else "",
        "weekly": tell_often(p.often) if p.often else "",
    }


def tell_range(values: Range | tuple[int, int | None]) -> str:
    """`8`, or `8-12`."""
    low, high = values
    return f"{low:g}" if high is None or high == low else f"{low:g}\N{EN DASH}{high:g}"


def tell_often(often: Range) -> str:
    """`once`, `2–3 times`, `every other day`: in a week."""
    told = tell_range(often)
    named = {"0.5": "every other week", "1": "once", "3.5": "every other day", "7": "daily"}
    return named.get(told, f"{told} times")


def tell_load(load: Load) -> str:
    """`80 % of 1RM`, `40 kg in each hand`, `body weight`."""
    if load.kind == "bodyweight" and load.low is None:
        return "body weight"
    amount = tell_range((load.low, load.high)) if load.low is not None else ""
    if load.kind == "percent":
        text = f"{amount} % of {PERCENT_OF.get(load.of or '', load.of or 'an unnamed maximum')}"
    elif load.kind == "RM":
        text = f"{amount}RM"
    elif load.kind == "mass":
        text = f"{amount} {load.unit or '(unit not said)'}"
    elif load.kind == "bodyweight-multiple":
        text = f"{amount} × body weight"
    elif load.kind == "relative":
        change = "less" if (load.low or 0) < 0 else "more"
        text = f"{abs(load.low or 0):g} % {change} than the {load.of or 'load before'}"
    else:
        text = f"{load.kind} {amount} {load.unit or ''}".strip()
    per = {"hand": " in each hand", "side": " on each side"}.get(load.per or "", "")
    return f"{text}{per}"


def tell_effort(effort: Effort) -> str:
    """`RPE 8`, `2-3 repetitions left`, `1 repetition left`, `to failure`."""
    amount = tell_range((effort.low, effort.high))
    if effort.kind == "RPE":
        return f"RPE {amount}"
    if effort.high == 0:
        return "to failure"
    return f"{amount} {'repetition' if effort.low == effort.high == 1 else 'repetitions'} left"


def tell_rest(rest: Range) -> str:
    """Seconds, or minutes from two minutes on."""
    low, high = rest
    if low >= 120 and low % 30 == 0 and (high is None or high % 30 == 0):
        return f"{tell_range((low / 60, None if high is None else high / 60))} min"
    return f"{tell_range(rest)} s"
