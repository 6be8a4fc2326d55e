"""The small languages of a prescription: repetitions, rest, load, effort, tempo. One text in, one reading out.

Each reader returns None for a text that is not of its kind. What was assumed or must be asked goes to a
Ledger. Usage as seen in public programme files; where nothing else is said: common practice, no source.
"""

import re
from dataclasses import dataclass, field, replace

from evidence.reading.programme_model import Effort, Load, Prescription, Range

NUMBER = r"\d+(?:[.,]\d+)?"
DASH = r"(?:-|–|—|−|to|bis|a)"
RANGE = rf"(?P<low>{NUMBER})(?:\s*{DASH}\s*(?P<high>{NUMBER}))?"
MASS_UNIT = r"(?P<unit>kgs?|kilos?|lbs?|pounds?|#|poods?)"
BODYWEIGHT = r"(?:BW|body\s?-?weight)"
SIDE = (
    r"(?:/\s*(?:leg|side|arm|seite|bein|lato|gamba)|(?:per|each|every|x|pro|je|por|par)\s+(?:leg|side|arm|lato|gamba|seite|bein"
    r"|pierna|lado|jambe|côté)|\beach(?:\s+(?:leg|side|arm))?\b|\be/s\b|\bea\.?(?=\s|,|$))"
)
OTHER_LOAD = r"[a-z][a-z -]{1,30}"  # of which a percentage is: "40 % of squat"
LONGEST = 100  # characters; a longer cell is prose, and patterns must not labour over it
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]


@dataclass(slots=True)
class Ledger:
    """What a reading took for granted (`assumed`) and could not settle (`asked`: topic and text)."""

    assumed: list[str] = field(default_factory=list)
    asked: list[tuple[str, str]] = field(default_factory=list)

    def assume(self, text: str) -> None:
        if text not in self.assumed:
            self.assumed.append(text)

    def ask(self, topic: str, text: str) -> None:
        if (topic, text) not in self.asked:
            self.asked.append((topic, text))


def number(text: str) -> float:
    """A number with a point or a comma before its decimals; whole ones as they are."""
    return float(text.replace(",", "."))


def range_of(found: re.Match[str]) -> Range:
    """(low, high) of a match of RANGE, in order."""
    low = number(found["low"])
    high = number(found["high"]) if found["high"] else low
    return (low, high) if low <= high else (high, low)


def read_sets(text: str) -> tuple[int, int | None] | None:
    """Sets: "3", "3-4"; the second figure only where it is a range."""
    if len(text) > LONGEST:
        return None
    found = re.fullmatch(rf"{RANGE}\s*(?:sets?|x)?", text.strip(), re.IGNORECASE)
    if not found:
        return None
    low, high = range_of(found)
    if high is None or low != int(low) or high != int(high):
        return None
    return int(low), int(high) if high != low else None


def read_reps(text: str, ledger: Ledger) -> Prescription | None:
    """Repetitions or time: "8-12", "10/leg", "8/8", "20s/side", "AMRAP", "3+", "12 total", "max", "400 m"."""
    if len(text) > LONGEST:
        return None
    rest = text.strip().rstrip(".").lstrip("~≈ ")
    side = None
    if found := re.search(rf"\s*{SIDE}\s*", rest, re.IGNORECASE):
        note_bare_each(found[0], ledger)
        rest, side = f"{rest[: found.start()]} {rest[found.end() :]}".strip(), "each"
    rest = re.sub(r"\s*(?:reps?|repetitions?|wdh\.?)$", "", rest, flags=re.IGNORECASE)
    if found := re.fullmatch(r"(\d+)\s*/\s*(\d+)", rest):
        if found[1] != found[2]:
            return None
        ledger.assume(f"{found[1]}/{found[2]} = {found[1]} each side")
        return Prescription(reps=(float(found[1]), float(found[1])), side="each")
    if found := re.fullmatch(r"(\d+)\s*(?:total|in total|in all|altogether)", rest, re.IGNORECASE):
        total = int(found[1])
        if total % 2:
            ledger.ask(
                "side",
                f'{total} in total: how many on each side? Write for example "{total // 2} each side".',
            )
            return Prescription(reps_total=total)
        ledger.assume(f"{total} total = {total // 2} each side")
        return Prescription(reps=(total / 2, total / 2), reps_total=total, side="each")
    if re.fullmatch(r"(?:amrap|amap|as many (?:reps )?as possible)", rest, re.IGNORECASE):
        return Prescription(reps_open=True, side=side)
    if re.fullmatch(r"(?:to |bis )?(?:failure|versagen)", rest, re.IGNORECASE):
        return Prescription(reps_open=True, effort=Effort("RIR", 0, 0), side=side)
    if re.fullmatch(r"max(?:imum)?", rest, re.IGNORECASE):
        ledger.ask("max", '"max": as many reps as possible, or a max effort?')
        return Prescription(reps_open=True, side=side)
    if found := re.fullmatch(rf"(?P<low>\d+)\s*(?:\+|{DASH}\s*(?:amrap|max|failure))", rest, re.IGNORECASE):
        return Prescription(reps=(float(found["low"]), None), reps_open=True, side=side)
    if (seconds := read_time(rest)) is not None:
        return Prescription(time_s=seconds, side=side)
    if found := re.fullmatch(rf"({NUMBER})\s*(m|meters?|metres?|yd|yards?)", rest, re.IGNORECASE):
        metres = number(found[1]) * (0.9144 if found[2].lower().startswith("y") else 1)
        return Prescription(distance_m=metres, side=side)
    if found := re.fullmatch(RANGE, rest, re.IGNORECASE):
        return Prescription(reps=range_of(found), side=side)
    return None


def note_bare_each(text: str, ledger: Ledger) -> None:
    """Note the reading of an "each" that does not say each what."""
    if text.strip().casefold().rstrip(".") in ("each", "ea"):
        ledger.assume('"each" on a one-leg exercise means each leg, otherwise each side')


def read_date_as_reps(text: str) -> tuple[int, int] | None:
    """The range that a spreadsheet turned into a date:

    "12-Aug" -> (8, 12), "2026-10-12" -> (10, 12); low to high.
    """
    if len(text) > LONGEST:
        return None
    plain = text.strip()
    day = month = 0
    if found := re.fullmatch(r"(\d{1,2})[-. /]([A-Za-z]{3})[a-z]*\.?(?:[-. /]\d{2,4})?", plain):
        day, month = int(found[1]), _month(found[2])
    elif found := re.fullmatch(r"([A-Za-z]{3})[a-z]*\.?[-. /](\d{1,2})(?:,?[-. /]\d{4})?", plain):
        day, month = int(found[2]), _month(found[1])
    elif found := re.fullmatch(r"(?:19|20)\d{2}[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ][0-9:.]+)?", plain):
        day, month = int(found[2]), int(found[1])
    elif found := re.fullmatch(r"(\d{1,2})[/.](\d{1,2})[/.](?:19|20)\d{2}", plain):
        day, month = int(found[1]), int(found[2])
    if not (1 <= day <= 31 and 1 <= month <= 12):
        return None
    return min(day, month), max(day, month)


def _month(name: str) -> int:
    return _MONTHS.index(name.lower()) + 1 if name.lower() in _MONTHS else 0


def read_time(text: str) -> Range | None:
    """Seconds of a time with its unit: "20s", "2-3 min", "30\\"", "1:30"."""
    if len(text) > LONGEST:
        return None
    plain = text.strip().lstrip("~≈").strip()
    if found := re.fullmatch(r"(\d{1,2}):([0-5]\d)(?:\s*min)?", plain):
        seconds = float(int(found[1]) * 60 + int(found[2]))
        return seconds, seconds
    found = re.fullmatch(
        rf"{RANGE}\s*(?P<unit>s|secs?|seconds?|sek\.?|sekunden|\"|″|''|mins?|minutes?|minuten|minuti|'|′|m(?=$))",
        plain,
        re.IGNORECASE,
    )
    if not found or (found["unit"] == "m" and number(found["low"]) > 15):
        return None
    factor = 60 if found["unit"].lower().startswith(("m", "'", "′")) and found["unit"] != "''" else 1
    low, high = range_of(found)
    return low * factor, (high or low) * factor


def read_rest(text: str, ledger: Ledger) -> Range | None:
    """Rest in seconds:

    "90s", "2-3 min", "~3-4 min", "60\\"", "120", "2". A bare figure is seconds from 20 on.
    """
    if len(text) > LONGEST:
        return None
    plain = re.sub(r"^(?:rest|pause|r)\b[:=]?\s*|\s*(?:rest|pause)$", "", text.strip(), flags=re.IGNORECASE)
    if (seconds := read_time(plain)) is not None:
        return seconds
    if re.fullmatch(r"(?:0|none|no|-|—)", plain, re.IGNORECASE):
        return (0.0, 0.0) if plain == "0" else None
    found = re.fullmatch(RANGE, plain.lstrip("~≈ "), re.IGNORECASE)
    if not found:
        return None
    low, high = range_of(found)
    if low >= 20:
        ledger.assume("rest without a unit is in seconds when 20 or more")
        return low, high
    ledger.ask("rest", f'rest "{plain}": seconds or minutes?')
    return None


def read_tempo(text: str) -> tuple[str, ...] | None:
    """Four (or three) parts of a tempo: "3-1-1-0", "30X1", "3/1/1/0"."""
    if len(text) > LONGEST:
        return None
    plain = re.sub(r"^tempo\b[:=]?\s*", "", text.strip(), flags=re.IGNORECASE).upper()
    found = re.fullmatch(r"([0-9X])([0-9X])([0-9X])([0-9X])?", plain)
    parts = [p for p in found.groups() if p is not None] if found else re.split(r"\s*[-/:.–]\s*", plain)
    return (
        tuple(parts) if 3 <= len(parts) <= 4 and all(re.fullmatch(r"\d{1,2}|X", p) for p in parts) else None
    )


def read_effort(text: str, ledger: Ledger) -> Effort | None:
    """RPE or RIR: "RPE 8", "8-9 RPE", "@7", "RIR 1-2", "2 in reserve", "to failure", "leave 1"."""
    if len(text) > LONGEST:
        return None
    plain = text.strip()
    if found := re.fullmatch(rf"@?\s*(?P<kind>RPE|RIR)\s*[:=@]?\s*{RANGE}", plain, re.IGNORECASE):
        return _effort(found["kind"].upper(), range_of(found))
    if found := re.fullmatch(
        rf"@?\s*{RANGE}\s*(?P<kind>RPE|RIR|(?:reps? )?in reserve|left)", plain, re.IGNORECASE
    ):
        return _effort("RPE" if found["kind"].upper() == "RPE" else "RIR", range_of(found))
    if found := re.fullmatch(
        rf"leave\s+{RANGE}(?:\s+(?:reps?|in the tank|in reserve))?", plain, re.IGNORECASE
    ):
        return _effort("RIR", range_of(found))
    if re.fullmatch(r"(?:to\s+)?failure", plain, re.IGNORECASE):
        return Effort("RIR", 0, 0)
    if found := re.fullmatch(rf"@\s*{RANGE}", plain):
        low, high = range_of(found)
        if (high or low) <= 10:
            ledger.assume("a bare @ number up to 10 is RPE")
            return _effort("RPE", (low, high))
    return None


def read_bare_effort(text: str, ledger: Ledger, kind: str | None) -> Effort | None:
    """A figure in a column called RPE or RIR, or effort with its own word."""
    if (effort := read_effort(text, ledger)) is not None:
        return effort
    found = re.fullmatch(RANGE, text.strip(), re.IGNORECASE)
    if not found:
        return None
    if kind is None:
        ledger.ask("effort", f'effort "{text.strip()}": RPE or RIR?')
        return None
    return _effort(kind, range_of(found))


def _effort(kind: str, figures: Range) -> Effort | None:
    low, high = figures[0], figures[1] if figures[1] is not None else figures[0]
    return Effort(kind, low, high) if 0 <= low <= high <= 10 else None


def read_load(text: str, ledger: Ledger, *, unit: str | None = None) -> Load | None:
    """A load: "80%", "85% TM", "70-75% 1RM", "60kg", "1.5xBW", "bodyweight", "-15%", "20% BW each hand", "10RM".

    `unit`: that of the column, for a bare figure. A bare percentage is taken to be of 1RM, and a bare
    figure is asked.
    """
    if len(text) > LONGEST:
        return None
    plain = text.strip().lstrip("@").strip()
    per = None
    if found := re.search(r"\s*(?:(?:each|per|/)\s*(hand|side)|\beach)\s*$", plain, re.IGNORECASE):
        plain, per = plain[: found.start()], (found[1] or "hand").lower()
    if found := re.fullmatch(rf"2\s*[x×]\s*({NUMBER}\s*{MASS_UNIT})", plain, re.IGNORECASE):
        ledger.assume(f"{plain} = one in each hand")
        plain, per = found[1], "hand"
    if re.fullmatch(BODYWEIGHT, plain, re.IGNORECASE):
        return Load("bodyweight")
    if found := re.fullmatch(rf"({NUMBER})\s*(?:x|×|\*)\s*{BODYWEIGHT}", plain, re.IGNORECASE):
        factor = number(found[1])
        return Load("bodyweight-multiple", factor, factor)
    if found := re.fullmatch(rf"[-−–]\s*({NUMBER})\s*%", plain):
        return Load("relative", -number(found[1]), -number(found[1]))
    percent = re.fullmatch(
        rf"{RANGE}\s*%\s*(?:(?:of\s+)?(?P<of>1\s?-?RM|TM|training max|e1RM|{BODYWEIGHT})"
        rf"|of\s+(?P<other>{OTHER_LOAD}))?",
        plain,
        re.IGNORECASE,
    )
    if percent:
        return replace(_percent(percent, ledger), per=per)
    if found := re.fullmatch(rf"{RANGE}\s*{MASS_UNIT}", plain, re.IGNORECASE):
        return Load("mass", *range_of(found), unit=_unit(found["unit"]), per=per)
    if found := re.fullmatch(r"(\d{1,2})\s?-?RM", plain, re.IGNORECASE):
        return Load("RM", float(found[1]), float(found[1]))
    if found := re.fullmatch(rf"({NUMBER})\s*/\s*({NUMBER})\s*{MASS_UNIT}?", plain, re.IGNORECASE):
        ledger.ask("load", f'load "{plain}": one figure for men and one for women?')
        return None
    if found := re.fullmatch(RANGE, plain, re.IGNORECASE):
        if unit == "%":
            return _percent_of_1rm(range_of(found), ledger)
        if unit is None:
            ledger.ask("load unit", f'load "{plain}": kg or lb?')
        return Load("mass", *range_of(found), unit=unit, per=per)
    return None


def _percent(found: re.Match[str], ledger: Ledger) -> Load:
    if found["other"]:
        return Load("percent", *range_of(found), of=found["other"].strip())
    of = (found["of"] or "").upper().replace(" ", "").replace("-", "")
    if not of:
        return _percent_of_1rm(range_of(found), ledger)
    if of in ("TM", "TRAININGMAX"):
        ledger.ask("TM", "TM: what share of 1RM is the training max?")
        return Load("percent", *range_of(found), of="TM")
    return Load("percent", *range_of(found), of="1RM" if of.endswith("RM") else "bodyweight")


def _percent_of_1rm(figures: Range, ledger: Ledger) -> Load:
    shown = f"{figures[0]:g}"
    ledger.assume(f"a bare {shown}% is of 1RM")
    return Load("percent", *figures, of="1RM")


def _unit(text: str) -> str:
    return (
        "pood"
        if text.lower().startswith("pood")
        else {"k": "kg", "l": "lb", "#": "lb", "p": "lb"}[text[0].lower()]
    )
