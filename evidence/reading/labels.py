"""What the words of a header or a row label say: a time point, a group, a statistic, a unit, a number of
people.

Word lists cover English and the headings seen most in Portuguese, Spanish, French and German papers (common
practice, no source). A label no list knows is left as it is: it names an exercise, a region, an outcome or a
condition.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from evidence.reading.cells import SUPERSCRIPTS, split_marks
from evidence.vocabulary.terms import Spread


class Kind(StrEnum):
    """What a column (or a row of statistics) holds."""

    MEAN = "mean"
    MEDIAN = "median"
    SPREAD = "spread"
    INTERVAL = "interval"
    RANGE = "range"
    CHANGE = "change"
    PERCENT_CHANGE = "percent change"
    DIFFERENCE = "difference"
    EFFECT_SIZE = "effect size"
    RATIO = "ratio"
    CORRELATION = "correlation"
    P = "p"
    TEST = "test statistic"
    N = "n"
    STUDIES = "studies"
    LOWER = "lower end"
    UPPER = "upper end"
    COUNT = "count"
    PLAIN = "plain"  # the words do not say


_CHANGE = r"(?:Δ|∆|delta|change|diff(?:erence|\.)?|increase|gain|improvement|decrease|reduction|variation)s?"
_END_BEFORE = r"^(?:\d\d(?:\.\d)?\s?% ?(?:CI)?[ ,(-]*|CI[ ,(-]*)?"
_END_AFTER = r"(?: (?:limit|bound|end|CI|\d\d\s?% ?CI))?\)?$"
_KINDS: tuple[tuple[Kind, str], ...] = (
    (Kind.LOWER, rf"{_END_BEFORE}(?:lower|low|LL|LCL){_END_AFTER}|^min(?:imum)?\.?$"),
    (Kind.UPPER, rf"{_END_BEFORE}(?:upper|high|UL|UCL){_END_AFTER}|^max(?:imum)?\.?$"),
    (Kind.STUDIES, r"\b(?:number|no\.?|n) of (?:studies|trials)\b|^studies(?: \(n\))?$|^k$"),
    (
        Kind.N,
        r"^n$|^\(n\)$|^n[ (_,:-]+[a-z]{3,}\w*\)?$"
        r"|\b(?:number|no\.?|n) of (?:subjects|participants|people|patients|men|women|athletes|individuals)\b"
        r"|^sample(?: size)?$|^(?:participants|subjects|patients)(?: \(n\))?$",
    ),
    (
        Kind.P,
        r"^p$|\bp[ -]?(?:values?|wert|valor|valeur)\b|^giá trị p$|^p\b[ \-(,:]+(?!re|ost)"
        r"|\bp\)?$|^sig(?:\.|nificance)?$|\binteraction\b"
        r"|\b(?:group|condition|sex|leg|treatment|exercise)s? ?[×x*] ?\w+|\b\w+ ?[×x*] ?(?:time|group)\b"
        r"|^(?:main )?effect(?: of\b|$)"
        r"|\b(?:time|group)[ -]effect\b|^(?:time|group|between[- ]groups?|within[- ]groups?)$",
    ),
    (
        Kind.TEST,
        r"^[Ftzχ](?:2|²)?$|^F ?\(|\b[Ft][ -](?:value|statistic|ratio)\b|(?i:\beta\b|\bchi[- ]squared?\b)|η|\bICC\b"
        r"|\bCV\b"
        r"|^(?:MDC|MDD|SDC|SWC|TEM)(?:\s?\d\d)?\b|\b[Ss]tandard error of (?:the )?measurement\b|\b[Tt]ypical error\b",
    ),
    (Kind.CORRELATION, r"^r$|(?i:\bcorrelations?\b|^R2$|^R²$)"),
    (
        Kind.EFFECT_SIZE,
        r"\bES\b|^[dg]$|\bSMD\b|(?i:\beffect sizes?\b|\bcohen|\bhedges|\bstandardi[sz]ed mean diff"
        r"|\beffektst|\btamaño del efecto"
        r"|\btaille d.effet|\btamanho do efeito)",
    ),
    (
        Kind.PERCENT_CHANGE,
        rf"(?<!\w){_CHANGE}[ ,]*[(\[]?\s?%|%\s?(?:of )?{_CHANGE}(?!\w)|\bpercent(?:age)? (?:of )?{_CHANGE}"
        rf"|(?<!\w)D\s?%",
    ),
    (Kind.RATIO, r"\bratio of\b|^(?:mean )?ratio\b|\b(?:odds|risk|hazard|rate) ratio\b|^(?:OR|RR|HR)$"),
    (
        Kind.DIFFERENCE,
        r"\bbetween[- ]group (?:diff|change)|\bdiff(?:erence)?s?\b|^MD\b|\bmean diff|\b(?:mittelwert)?differenz\b"
        r"|\bunterschied\b|\bdiferen[cç]i?as?\b|\bdiff[ée]rences?\b|\b(?:khác biệt|chênh lệch)\b",
    ),
    (
        Kind.CHANGE,
        r"(?<!\w)(?:Δ|∆)|\bdelta\b|\bchanges?\b(?![- ]of[- ]direction)|\bgains?\b|\bpost\s?[-–−]\s?pre\b"
        r"|\bimprovement\b|\bincrease\b|\bveränderung\b|\bzuwachs\b|\bcambio\b|\bmudança\b|\bchangement\b|\bthay đổi\b",
    ),
    (Kind.MEDIAN, r"\bmedians?\b|\bmdn\b|\bmediana\b|\bmédiane\b"),
    (
        Kind.RANGE,
        r"^range(?: ?\([^()]*\))?$|[(\[,] ?range ?[)\]]?$"
        r"|^min(?:imum)?\s*[-–/]\s*max(?:imum)?\b|\bmin(?:imum)?\.?\s*(?:[-–/]"
        r"|to)\s*max(?:imum)?",
    ),
    (
        Kind.MEAN,
        r"\bmeans?\b|\baverage\b|^M$|\bmédia\b|\bmedia\b|\bmoyenne\b|\bmittelwert\b|^MW$|^x̄$|\btrung bình\b|^TB$",
    ),
    (
        Kind.SPREAD,
        r"^(?:±\s*)?(?:SD|SE|SEM|S\.D\.|S\.E\.|s\.d\.|DP|DE|ET|ĐLC|(?i:std\.? ?dev\.?|standard (?:deviation|error)))$",
    ),
    (
        Kind.INTERVAL,
        r"^[(\[]?\s?(?:\d\d(?:\.\d)?\s?%\s?)?(?:CI|IC|confidence intervals?|confidence limits|IQR)s?\s?[)\]]?$",
    ),
    (Kind.COUNT, r"^n \(%\)$|\bn \(%\)"),
)
_COMPILED = tuple((kind, re.compile(pattern, re.IGNORECASE)) for kind, pattern in _KINDS)
_CASED = {Kind.TEST, Kind.SPREAD, Kind.CORRELATION, Kind.EFFECT_SIZE}
_CASED_PATTERNS = {kind: re.compile(pattern) for kind, pattern in _KINDS if kind in _CASED}

_AIM = r"(?:test(?:ing|s)?|training|intervention|exercise|treatment|program(?:me)?|season|measurement|assessment|value)"
TIME = re.compile(
    rf"(?:pre|post|before|after)(?:[- ]?{_AIM}(?! groups?\b))?(?!\w)(?!-\w)|baseline(?! characteristics)|follow[- ]?up"
    rf"|retention(?: test)?"
    rf"|mid(?:[- ]?point|[- ]?{_AIM}(?! groups?\b))?(?!\w)(?!-\w)|initial|final"
    r"|(?:week|wk|month|mo|day|session|year|visit|w)s?[. ]?\d+(?:[-–]\d+)?(?![\w.])|\d+[- ]?(?:weeks?|wks?|months?"
    r"|days?|h|min)(?!\w)"
    r"|T[0-5](?!\w)|(?:pré|pós)(?:-\w+|(?:treino|teste))?|pretest|pos?t?test|antes|depois|después|avant|après|vorher"
    r"|nachher|prä(?!\w)|(?:vor|nach|prä|eingangs|ausgangs|zwischen|end)-?(?:test|messung|untersuchung)|(?:vor|nach)(?!\w)"
    r"|(?:trước|sau)(?!\w)(?: (?:khi )?(?:tập(?: luyện)?|can thiệp))?|ban đầu",
    re.IGNORECASE,
)
TIME_STUB = re.compile(
    r"^(?:week|wk|month|day|session|time(?: ?point)?|weeks|months|days)s?\.?:?$", re.IGNORECASE
)
STUB = re.compile(
    r"(?:(?:dependent )?variables?|outcomes?(?: measures?)?|measures?|measurements?|parameters?|exercises?|muscles?"
    r"|groups?|tests?"
    r"|rest(?: intervals?| periods?)?|protocols?|methods?|stances?|tempos?"
    r"|sites?|regions?|conditions?|movements?|tasks?|loads?|intensity|angles?|velocity|phases?|joints?|lifts?|items?"
    r"|comparisons?|contrasts?|pairs?|género|gender|sex|grupos?|variáveis|variável|variable|muskel|übung|exercices?"
    r"|bài tập|nhóm(?: cơ)?|biến số|chỉ số|cơ(?! )"
    r"|exercícios?|ejercicios?|músculos?|muscles?)"
    r"(?=\s|$)",
    re.IGNORECASE,
)
PERSON_STUB = re.compile(
    r"(?:participant|subject|person|athlete|player|patient|volunteer|runner|lifter|proband|teilnehmer|sujeto|sujet)(?:in)?"
    r"(?: ?(?:id|no\.?|number|#|code))?|id|no\.?|#",
    re.IGNORECASE,
)
_GROUP = re.compile(
    r"\bgroups?\b|\bgrupos?\b|\bcontrols?\b|^exp(?:erimental)?$|^(?:wo)?m[ea]n\b|^(?:fe)?males?\b"
    r"|^boys$|^girls$"
    r"|^young|^old(?:er)?\b|^elderly|^masculino|^feminino|^hommes?|^femmes?|^männer|^frauen|^hombres?|^mujeres"
    r"|^overall\b|^total(?: cohort| sample)?\b|^all(?: participants| subjects)?$|\bintervention\b|^placebo"
    r"|^(?:un)?trained\b"
    r"|^athletes|^novices?|^training$|\w training$",
    re.IGNORECASE,
)
_GROUP_CODE = re.compile(r"^[A-Z]{1,3}G$|^CON$|^CTRL?$|^EXP$")
N_STATED = re.compile(r"[(\[]?\s*\b[nN]\s*[=:]?\s*(\d{1,5})\s*[)\]]?")
UNIT = re.compile(r"[(\[]([^()\[\]]{1,25})[)\]]\s*$")


@dataclass(frozen=True, slots=True)
class Phrase:
    """A label understood: its name without n, what it holds, when, how many people."""

    name: str
    kind: Kind = Kind.PLAIN
    timepoint: str | None = None
    n: int | None = None
    spread: Spread | None = None
    level: float | None = None
    rest: str = ""  # the name without its statistic words


@lru_cache(maxsize=4096)
def read_phrase(text: str) -> Phrase:
    """Understand one label."""
    tidy = tidy_label(text)
    count = re.search(
        r"[(\[,;]\s*[nN]\s*[=:]?\s*(\d{1,5})\s*[)\]]?\s*$|[(\[]\s*[nN]\s*[=:]?\s*(\d{1,5})\s*[)\]]", tidy
    )
    n = int(count[1] or count[2]) if count else None
    name = tidy_label(tidy[: count.start()] + " " + tidy[count.end() :]) if count else tidy
    when = TIME.match(name)
    level = re.search(r"(\d\d(?:\.\d)?)\s?%[\s-]?(?:CI|IC|KI|confidence|konfidenz)", name, re.IGNORECASE)
    return Phrase(
        name=name,
        kind=read_kind(name),
        timepoint=name_timepoint(name, when) if when else None,
        n=n,
        spread=read_spread(name),
        level=float(level[1]) if level else None,
        rest=strip_statistic(name),
    )


def name_timepoint(name: str, found: re.Match[str]) -> str:
    """The time point as printed, without the statistic that may follow it."""
    rest = strip_statistic(name[found.end() :])
    return tidy_label(f"{found.group()} {rest}") if rest else tidy_label(found.group())


def read_kind(name: str) -> Kind:
    """The first kind whose words stand in a label; PLAIN when none does."""
    for kind, pattern in _COMPILED:
        chosen = _CASED_PATTERNS.get(kind, pattern)
        if chosen.search(name):
            return kind
    return Kind.PLAIN


def read_spread(name: str) -> Spread | None:
    """The kind of spread a label names, if it names just one."""
    found = {kind for kind, pattern in SPREAD_WORDS if pattern.search(name)}
    return found.pop() if len(found) == 1 else None


_SD = (
    r"\bSDs?\b|\bS\.D\.|\bs\.d\.|(?i:\bstandard[- ]dev\w*|\bstd\.? ?dev)|\bdesvio|\bDP\b|\bdp\b|\bécart|\bDE\b|\bET\b"
    r"|\bdesviación|\bStandardabw|\bĐLC\b|\b[đĐ]ộ lệch chuẩn"
)
_SE = (
    r"\bSEM?s?\b|\bS\.E\.(?:M\.)?|\bs\.e\.(?:m\.)?|(?i:\bstandard[- ]errors?\b)|\berro[- ]padrão|\berror estándar"
    r"|\bStandardfehler|\b[sS]ai số chuẩn"
)
SPREAD_WORDS: tuple[tuple[Spread, re.Pattern[str]], ...] = (
    (Spread.SD, re.compile(_SD)),
    (Spread.SE, re.compile(_SE)),
    (
        Spread.CI,
        re.compile(
            r"\bCIs?\b|\bIC\s?9\d|\bIC\b|\b[cC]onfidence (?:interval|limit)s?\b"
            r"|\bKI\b|\bKonfidenzintervall|\bKTC\b"
        ),
    ),
    (Spread.IQR, re.compile(r"\bIQR\b|\binter-?quartile|\b25th\b|\bquartiles?\b|\bQ1\b")),
    (
        Spread.RANGE,
        re.compile(
            r"^range(?: ?\([^()]*\))?$|[(\[,] ?range ?[)\]]|\bmin(?:imum)?\s?[-–/]\s?max(?:imum)?\b",
            re.IGNORECASE,
        ),
    ),
)

_STATISTIC_PIECES = re.compile(
    r"[(\[]?\s*(?:\bmeans?|\bmedians?|\baverage)?\s*(?:[±(\[,]\s*){0,4}\b(?:SDs?|SEM?s?|IQR|\d\d\s?% ?CIs?|CIs?"
    r"|standard (?:deviation|error))\b\s*[)\]]*"
    r"|\b(?-i:M)\s?(?:\(\s?±?|±)\s?S[DE]M?\s?\)?|\bmeans?\b|\bmedians?\b|\bp[- ]?values?\b",
    re.IGNORECASE,
)


def strip_statistic(name: str) -> str:
    """A label without the words that only say which statistic it is: "A, median (IQR)" gives "A"."""
    rest = tidy_label(_STATISTIC_PIECES.sub(" ", name)).strip(" ,;:±-–")
    return rest if rest.count("(") == rest.count(")") and rest not in ("()", "[]") else rest.strip(" ()[]")


def tidy_label(text: str) -> str:
    """One space between words, none inside brackets' edges, no superscript braces."""
    text = re.sub(r"\^\{([^{}]*)\}", r"\1", text.replace("\ue0ff", ""))
    text = re.sub(r"\s+", " ", text).strip(" |\t")
    return (
        re.sub(r"(?<=\w)\((?=[a-zA-Z%])", " (", text)
        if re.search(r"[a-zA-Z]\([a-zA-Z%]{1,6}\)$", text)
        else text
    )


def drop_superscripts(label: str, known: Collection[str]) -> str:
    """A label without the superscripts at its end, when the notes explain each; those of units ("cm²") stay."""
    found = re.search(rf"(?:(?<=[^\W\d_]{{3}})|(?<=[)\]]))[{SUPERSCRIPTS}]+(?:,[{SUPERSCRIPTS}])*$", label)
    if not found or not all(mark in known for mark in split_marks(found.group())):
        return label
    return label[: found.start()]


def names_group(label: str, meaning: str = "") -> bool:
    """Whether a label (or what the legend says it stands for) names a group of people."""
    plain = read_phrase(label)
    if plain.n is not None:
        return True
    if re.search(
        r"\b(?:between|within)\b|\b(?:n|no\.?)\s*[(\[,]\s*%|[(\[,]\s*%\)?$", plain.name, re.IGNORECASE
    ):
        return False  # "Women, n (%)" counts them
    if _GROUP.search(plain.name) or _GROUP_CODE.search(plain.name):
        return True
    return bool(
        meaning
        and re.search(
            r"\bgroups?\b|\bcontrols?\b|\btrained\b|\btraining\b|\bintervention\b", meaning, re.IGNORECASE
        )
    )


def read_unit(label: str) -> str | None:
    """The unit in brackets at the end of a label: "(kg)", "(%MVIC)", "[N·m]"; "(0-12)" is a scale and "(n =
    9)" a count.
    """
    found = UNIT.search(label)
    if not found or re.fullmatch(r"[\d\s.–-]+", found[1]) or re.match(r"[nN]\s*=", found[1]):
        return None
    return found[1].strip() if re.search(r"[^\W\d_]|[%°]", found[1]) and len(found[1].split()) <= 3 else None
