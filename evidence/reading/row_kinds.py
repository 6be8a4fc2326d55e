"""What a row holds, where its label says so: "SD", "95% CI", "% change", "Women, n (%)"."""

from __future__ import annotations

import re

from evidence.reading.labels import Kind

_ROW_KIND = (
    (Kind.P, r"p(?:[- ]?values?)?(?: \(.*\))?|sig\.?"),
    (Kind.N, r"n|number of (?:participants|subjects)|participants|sample size|n \(.*\)"),
    (Kind.PERCENT_CHANGE, r"(?:mean )?(?:%|percent(?:age)?) ?(?:change|difference|Δ|increase|gain)s?(?: \(.*\))?"
                          r"|(?:change|Δ|difference|increase)s? ?\(?%\)?"),
    (Kind.CHANGE, r"(?:mean |absolute )?(?:change|Δ|gain)s?(?: \(.*\))?|post[- –−]+pre"),
    (Kind.DIFFERENCE, r"(?:mean )?difference(?: \(.*\))?"),
    (Kind.EFFECT_SIZE, r"ES|effect sizes?(?: \(.*\))?|cohen['’]?s d|hedges['’]? g|SMD"),
    (Kind.MEAN, r"means?|average|M"),
    (Kind.SPREAD, r"[(±]? ?(?:SD|SEM?|S\.D\.|S\.E\.(?:M\.)?|std\.? ?dev\.?|standard (?:deviation|error)s?)\)?"),
    (Kind.MEDIAN, r"median"),
    (Kind.INTERVAL, r"[(\[]?(?:\d\d ?% ?)?(?:CIs?|confidence intervals?|IQR|interquartile range|range)[)\]]?"),
    (Kind.LOWER, r"min(?:imum|\.)?|lower(?: (?:bound|limit|end))?(?: \(.*\))?"),
    (Kind.UPPER, r"max(?:imum|\.)?|upper(?: (?:bound|limit|end))?(?: \(.*\))?"),
)  # fmt: skip


def read_row_kind(label: str) -> Kind:
    """What a row holds when its whole label is a statistic."""
    for kind, pattern in _ROW_KIND:
        if re.fullmatch(pattern, label, re.IGNORECASE if len(label) > 2 else 0):
            return kind
    return Kind.PLAIN


_STATED = (
    (Kind.COUNT, re.compile(r"(?:\bn|\bno\.?|\bnumber)\s*[\[(,]\s*%", re.IGNORECASE)),
    (Kind.MEDIAN, re.compile(r"[,;(:–-]\s*(?:median|mdn)\b|\bmedian\s*[(\[]", re.IGNORECASE)),
)  # fmt: skip


def stated_kind(label: str) -> Kind:
    """What a row holds when its label says so beside its name: "Women, n (%)", "Medications, median (range)"."""
    return next((kind for kind, pattern in _STATED if pattern.search(label)), Kind.PLAIN)
