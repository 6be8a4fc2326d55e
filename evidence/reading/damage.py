"""Characters that a copy changed: what each stands for, inferred from the paste itself.

A PDF's own fonts may deliver ± as "6", "T", "AE" or a control character, minus as "j" or U+0005, < as "G", =
as "5". The same character means different things in different papers, so nothing is looked up: the legend
("values are means 6 standard error", "p G 0.01", "(n ¼ 12)") and the places where the character stands say
what it is. A repair is made only in such a place; text that shows no damage comes back unchanged. Repairs
keep the length of a line, so places in the paste stay true.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from evidence.reading.cells import DASHES, FILLER, THIN
from evidence.reading.table import Repair

PLUS_MINUS, MINUS, LESS, EQUALS, TIMES = "±", "−", "<", "=", "×"
MEANINGS = (PLUS_MINUS, MINUS, LESS, EQUALS, TIMES)
_CONTROLS = {code: 0xE000 + code for code in range(32) if code not in (9, 10, 13)}
_SPACE = f"[ \t{THIN}]"
_NUMBER = r"(?:\d+(?:[.,·]\d+)*|\.\d+)"
_MARKS = r"[*†‡§¶#]{0,3}"
_KIND = r"(?:S\.?D\b|S\.?E\.?M?\b|SDs|SEs|SEMs|std|stand|s\.d|s\.e|s\b|dp\b|DP\b|ET\b|écart|desv|erro|DE\b|95|CI\b)"
_MEAN = r"(?:(?i:means?|averages?|values?|média|media|moyenne|mittelwert)|x|M|X)\)?"
_NOT_SIGNS = set("*†‡§¶#|/:;%°'\"$&^×xX<>=≤≥±+_~≈→⟶➔➝↑↓·∙‧•") | set(DASHES) | {FILLER}


@dataclass(frozen=True, slots=True)
class Damage:
    """What was inferred. `mapping`: (character, meaning) pairs; `unsure`: characters to ask about, with why."""

    signs: frozenset[tuple[str, str]] = frozenset()
    repairs: tuple[Repair, ...] = ()
    unsure: Mapping[str, str] = field(default_factory=dict)

    def stands_for(self, meaning: str) -> list[str]:
        """The characters that stand for a sign."""
        return sorted(char for char, sign in self.signs if sign == meaning)

    @property
    def mapping(self) -> dict[str, str]:
        """Character -> meaning, for show; a character with two meanings has both."""
        shown: dict[str, str] = {}
        for char, sign in sorted(self.signs):
            name = show_character(char)
            shown[name] = f"{shown[name]} or {sign}" if name in shown else sign
        return shown


def show_character(char: str) -> str:
    """A character as a person can see it: control characters as U+0005."""
    code = ord(char[0])
    if 0xE000 <= code < 0xE020:
        return f"U+{code - 0xE000:04X}"
    return f"U+{code:04X}" if len(char) == 1 and (not char.isprintable() or char == "\ufffd") else char


def keep_controls(text: str) -> str:
    """Move control characters to private code points: they count as spaces otherwise, and the lost sign is
    in them.
    """
    return text.translate(_CONTROLS)


# "+/-" with its plus (and perhaps its minus) broken: a slash and a dash between two figures or before "SD"
_BROKEN_SIGN = re.compile(
    rf"(?:(?<=\d)|(?<=[\d)a-z] ))[^\s\w.,;:()\[\]À-ÿ]?[þÞÀ-ÿ]?/ ?[j{DASHES}](?= ?\.?\d| ?(?:SD|SE|standard))"
)


def unify_variants(text: str) -> str:
    """Other spellings of ± and < that need no inference, kept to the same length."""
    for spelled in ("+/-", "+/−", "+/–", "\\pm", "+-", "+−", "Â±", "&plusmn;", "&#177;"):
        text = text.replace(spelled, PLUS_MINUS + " " * (len(spelled) - 1))
    text = _BROKEN_SIGN.sub(lambda m: PLUS_MINUS + " " * (len(m.group()) - 1), text)
    for spelled, sign in (
        ("\\<", "<"),
        ("\\>", ">"),
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("âˆ’", "−"),
        ("â€“", "–"),
    ):
        text = text.replace(spelled, FILLER * (len(spelled) - 1) + sign)
    return re.sub(r"(?<=\d) ?\+ (?=\d)(?!\d+ ?[=)])", lambda m: m.group(), text)


def infer_damage(lines: Sequence[str], answered: Mapping[str, str] | None = None) -> Damage:
    """Infer which characters stand for ±, −, <, = and ×. `lines` have been through `keep_controls` and
    `unify_variants`.

    `answered`: what the user said ("6" -> "±"; "" means: leave it as it is); it overrides what was inferred.
    """
    answers = {_hidden(char): sign for char, sign in (answered or {}).items()}
    repairs: list[Repair] = []
    signs: set[tuple[str, str]] = set()
    unsure: dict[str, str] = {}
    text = "\n".join(lines)
    for finder in (_find_equals, _find_plus_minus, _find_less, _find_times, _find_minus):
        for char, sign, evidence, doubt in finder(text, signs):
            if char in answers or (char, sign) in signs:
                continue
            signs.add((char, sign))
            example = _example(text, char, sign)
            repairs.append(Repair(f"{sign} arrives as {show_character(char)}", example, "", evidence))
            if doubt:
                unsure[char] = doubt
    for char, sign in answers.items():
        if sign:
            signs.add((char, sign))
            repairs.append(Repair(f"{sign} arrives as {show_character(char)}", "", "", "you said so"))
    found = Damage(frozenset(signs), (), unsure)
    shown = tuple(
        Repair(r.text, _visible(r.before), restore(r.before, found).replace(FILLER, ""), r.evidence)
        for r in repairs
    )
    return Damage(frozenset(signs), shown, unsure)


def _visible(text: str) -> str:
    return "".join(show_character(c) if 0xE000 <= ord(c) < 0xE020 else c for c in text)


def _hidden(char: str) -> str:
    """A character as named by the user ("U+0005", "6") in the form used inside."""
    named = re.fullmatch(r"[Uu]\+([0-9A-Fa-f]{4})", char)
    return keep_controls(chr(int(named[1], 16)) if named else char)


Finding = tuple[str, str, str, str]


def _find_equals(text: str, _known: set[tuple[str, str]]) -> list[Finding]:
    """The character between n and a whole number in brackets."""
    found = Counter(re.findall(r"[(\[]\s*[nN]\s?([^\s\w=:<>)(,.-]|[5¼\ue000-\ue01f])\s?\d+\s*[)\],;]", text))
    found.update(re.findall(rf"\b[nN] ([^\s\w=:<>)(,.{DASHES}]|5) \d+\b(?! ?[.,]\d)", text))
    return [
        (char, EQUALS, f"it stands between n and a number ({times} places)", "")
        for char, times in found.items()
    ]


def _find_plus_minus(text: str, known: set[tuple[str, str]]) -> list[Finding]:
    if found := _find_dashes(text):
        return found
    legend = Counter(
        m[1]
        for m in re.finditer(
            rf"\b{_MEAN}{_SPACE}?\(?{_SPACE}?([^\s\w.,;:()\[\]/=|-]{{1,2}}|[A-Z]{{1,2}}|\d){_SPACE}?\(?{_KIND}",
            text,
        )
        if m[1] not in _NOT_SIGNS
    )
    places: Counter[str] = Counter()
    stray = rf"([^\s\d.,()\[\]a-z{THIN}]{{1,2}}|\d(?={_SPACE}))"
    pattern = rf"(?<![\w.,]){_NUMBER}{_MARKS}(?={_SPACE}*{stray}({_SPACE}*){_NUMBER})"
    for m in re.finditer(pattern, text):
        char, before = m[1], text[m.end() : m.end() + 1]
        spaced = bool(m[2]) and before.isspace()
        if (
            any(c in _NOT_SIGNS for c in char)
            or (char.isalnum() and not spaced)
            or (bool(m[2]) != before.isspace())
        ):
            continue
        places[char] += 1
    findings: list[Finding] = []
    for char, times in places.most_common():
        if PLUS_MINUS in text and char.isalnum() and char not in legend:
            continue
        if char in legend:
            findings.append(
                (char, PLUS_MINUS, f"the legend says mean {show_character(char)} spread; {times} places", "")
            )
        elif not char.isalnum() and (char, EQUALS) not in known:
            findings.append(
                (
                    char,
                    PLUS_MINUS,
                    f"it stands between two numbers in {times} places",
                    "" if times > 1 else _ASK,
                )
            )
        elif char.isalpha() and times >= (3 if char.isascii() else 2):
            findings.append((char, PLUS_MINUS, f"it stands between two numbers in {times} places", ""))
        elif char.isdigit() and _is_steady(text, char, times):
            findings.append(
                (char, PLUS_MINUS, f"every second figure of a pair follows it ({times} places)", _ASK)
            )
    signs = [f for f in findings if not (f[0].isdigit() and any(not g[0].isdigit() for g in findings))]
    return signs[:2]


def _find_dashes(text: str) -> list[Finding]:
    """A spaced dash that the legend puts between mean and SD, over pairs that fall: no range would."""
    said = re.search(rf"\b{_MEAN}{_SPACE}?([{DASHES}]){_SPACE}?(?=S\.?[DE]|standard)", text)
    if not said or PLUS_MINUS in text:
        return []
    pairs = re.findall(rf"(?<![\w.,])(\d+\.?\d*){_MARKS} {said[1]} (\d+\.?\d*)", text)
    falling = sum(float(first) > float(second) for first, second in pairs)
    if len(pairs) < 3 or falling < 0.9 * len(pairs):
        return []
    return [(said[1], PLUS_MINUS, f"the legend says mean {said[1]} spread; {len(pairs)} places", "")]


_ASK = "only its place says so"


def _is_steady(text: str, digit: str, times: int) -> bool:
    """Whether a digit stands between two numbers on most lines with numbers: a value would not repeat like
    that.
    """
    pair = re.compile(rf"(?<![\w.,]){_NUMBER}{_MARKS} {digit} {_NUMBER}")
    lines = [line for line in text.split("\n") if len(re.findall(_NUMBER, line)) >= 3]
    return times >= 4 and len(lines) >= 2 and all(pair.search(line) for line in lines)


def _find_less(text: str, known: set[tuple[str, str]]) -> list[Finding]:
    """The character between p and a threshold (.05, .01, ...)."""
    equals = {char for char, sign in known if sign == EQUALS}
    found = Counter(
        re.findall(rf"\b[pP]{_SPACE}?([^\s\w=<>≤≥().:{DASHES}]|[GoO]){_SPACE}?0?\.0\d*[15]\b(?!\d)", text)
    )
    findings = [
        (char, LESS, f"it stands between p and a threshold ({times} places)", "")
        for char, times in found.items()
        if char not in equals and char not in (":", FILLER)
    ]
    return findings or _find_less_in_cells(text, known)


def _find_less_in_cells(text: str, known: set[tuple[str, str]]) -> list[Finding]:
    """A stray letter that stands before thresholds alone ("G0.001"), and before no other figure."""
    taken = {char for char, _ in known}
    found = Counter(
        re.findall(
            rf"(?:(?<=^)|(?<=[\s|]))([^\s\d.,()\[\]|+±<>=≤≥~≈$*†‡§¶#{FILLER}{THIN}%/:;'\"&\\{DASHES}])"
            rf"0?\.(?:0001|001|005|01|05)(?=[\s|]|$)",
            text,
            re.MULTILINE,
        )
    )
    findings: list[Finding] = []
    for char, times in found.items():
        elsewhere = len(re.findall(rf"(?<!\w){re.escape(char)}\.?\d", text)) - times
        if char not in taken and not elsewhere:
            findings.append((char, LESS, f"it stands before a threshold of p ({times} places)", ""))
    return findings[:1]


def _find_times(text: str, _known: set[tuple[str, str]]) -> list[Finding]:
    found = Counter(
        re.findall(r"\b(?:group|condition|treatment|sex|leg) ([^\s\w×*]|\d)\s?time\b", text, re.IGNORECASE)
    )
    return [
        (char, TIMES, "it stands between group and time", "")
        for char in found
        if char not in _NOT_SIGNS and char not in ".,()[]"
    ]


def _find_minus(text: str, known: set[tuple[str, str]]) -> list[Finding]:
    """A stray character directly before a number, at the start of a cell or an interval's end."""
    taken = {char for char, sign in known if sign in (LESS, EQUALS)}
    after_gap = rf"(?:(?<=^)|(?<=[\s|(\[,{THIN}]))"
    found = Counter(
        re.findall(
            rf"{after_gap}([^\s\w.,()\[\]|+±<>=≤≥~≈$#*†‡§¶{FILLER}{THIN}%/:;'\"&\\{DASHES}]|[jK]|[À-ÿ])(?=\.?\d)",
            text,
            re.MULTILINE,
        )
    )
    found.update(re.findall(r"(?:(?<=[\s(|])|(?<=\bto ))([\ue000-\ue01f])(?=\.?\d)", text))
    findings: list[Finding] = []
    for char, times in found.items():
        if char in taken and char.isascii():
            continue
        if char.isalpha() and not re.search(rf"(?:^|[\s(|]){char}\d*\.\d", text):
            continue
        if char in ("K", "j") and len(re.findall(rf"\b{char}\d", text)) < 2 and f"({char}" not in text:
            continue
        findings.append((char, MINUS, f"it stands directly before a number in {times} places", ""))
    return findings


def _example(text: str, char: str, sign: str) -> str:
    """A short piece of the paste where the character stands in this meaning."""
    shape = {
        PLUS_MINUS: rf"(?<![\w.,]){_NUMBER}{_MARKS}{_SPACE}*{re.escape(char)}{_SPACE}*{_NUMBER}",
        MINUS: rf"{re.escape(char)}\.?\d[\d.]*",
        LESS: rf"(?:[pP]{_SPACE}?)?{re.escape(char)}{_SPACE}?0?\.[\d.]+",
        EQUALS: rf"[nN]{_SPACE}?{re.escape(char)}{_SPACE}?\d+",
        TIMES: rf"\w+ {re.escape(char)} ?time",
    }[sign]
    found = re.search(shape, text)
    return found.group() if found else ""


def restore(text: str, damage: Damage) -> str:
    """The text with each inferred character replaced where it stands for its sign, and nowhere else."""
    for char in damage.stands_for(PLUS_MINUS):
        sign = PLUS_MINUS + " " * (len(char) - 1)
        text = _restore_pairs(text, char, sign)
        legend = rf"(\b{_MEAN}{_SPACE}?\(?{_SPACE}?){re.escape(char)}(?={_SPACE}?\(?{_KIND})"
        text = re.sub(legend, rf"\g<1>{sign}", text)
    for char in damage.stands_for(EQUALS):
        x = re.escape(char)
        text = re.sub(rf"(\b[nNpP]{_SPACE}?){x}(?={_SPACE}?\.?\d)", r"\1=", text)
        if not char.isalnum():
            text = re.sub(rf"(?<=\w ){x}(?= \w)", "=", text)
    for char in damage.stands_for(LESS):
        x = re.escape(char)
        text = re.sub(rf"(\b[pP]{_SPACE}?){x}(?={_SPACE}?\.?\d)", r"\1<", text)
        text = re.sub(rf"(?<![^\s|(]){x}(?={_SPACE}?0?\.\d)", LESS, text)
    for char in damage.stands_for(TIMES):
        text = re.sub(
            rf"(\b(?:group|condition|treatment|sex|leg) ){re.escape(char)}(?= ?time)",
            r"\1×",
            text,
            flags=re.IGNORECASE,
        )
        text = re.sub(
            rf"(\b(?:group|condition|treatment|sex|leg) ){re.escape(char)}(?=\s*$)",
            r"\1×",
            text,
            flags=re.IGNORECASE,
        )
    for char in damage.stands_for(MINUS):
        text = re.sub(rf"(?<![\w.]){re.escape(char)}(?=\.?\d)", MINUS, text)
    return text


def _restore_pairs(text: str, char: str, sign: str) -> str:
    """Pairs from left to right, so that in "6 6 1" only the middle 6 is the sign; spaced on both sides or on
    neither.
    """
    x = re.escape(char)
    spaced = re.compile(rf"(?<![\w.,])({_NUMBER}{_MARKS}{_SPACE}+){x}({_SPACE}+{_NUMBER})")
    text = spaced.sub(lambda m: f"{m[1]}{sign}{m[2]}", text)
    if char.isalnum() or char in DASHES:
        return text
    glued = re.compile(rf"(?<![\w.,])({_NUMBER}{_MARKS}){x}({_NUMBER})")
    return glued.sub(lambda m: f"{m[1]}{sign}{m[2]}", text)
