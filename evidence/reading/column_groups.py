"""Which part of a header names a group of people, when one does."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from evidence.reading.labels import Kind, Phrase, names_group, read_phrase, read_unit, tidy_label
from evidence.reading.names import is_region
from evidence.reading.places import Column


def settle_column_groups(
    columns: Sequence[Column],
    roles: Mapping[str, str],
    rows_have_groups: bool,
    abbreviations: Mapping[str, str],
) -> list[Column]:
    """The columns with their groups.

    A header part names the group when it carries n or is named so ("control"); else, where rows name none,
    when it stands over time points, or is one of several that a P column compares. Units, muscles and
    statistics are no groups. `roles` from the user come first.
    """
    said_role = roles.get("headers", roles.get("columns", "groups"))
    if said_role == "times":
        return [
            replace(
                c, group=None, timepoint=next((n for t in c.parts if (n := _name_left((t,)))), c.timepoint)
            )
            for c in columns
        ]
    if said_role != "groups":
        return [replace(column, group=None) for column in columns]
    said = "headers" in roles or "columns" in roles
    compared = any(c.kind is Kind.P for c in columns)
    several = len({name for c in columns if (name := _name_left(c.parts[-1:]))}) > 1
    settled = []
    for column in columns:
        names = [(text, name) for text in column.parts if (name := _name_left((text,)))]
        if said:
            settled.append(replace(column, group=names[0][1] if names else None))
            continue
        group = _stated_group(names, abbreviations)
        if group is None and not rows_have_groups:
            group = _implied_group(column, names, columns, compared, several)
        settled.append(replace(column, group=group))
    return settled


def _name_left(parts: Sequence[str]) -> str:
    """What a header part names beside time and statistic; "" when nothing."""
    if not parts:
        return ""
    phrase = read_phrase(parts[0])
    if phrase.timepoint or phrase.kind is Kind.P:
        return ""
    return phrase.name if phrase.kind is Kind.PLAIN else _without_kind(phrase)


def _stated_group(names: Sequence[tuple[str, str]], abbreviations: Mapping[str, str]) -> str | None:
    for text, name in names:
        if read_phrase(text).n is not None or names_group(name, abbreviations.get(name, "")):
            return name
    return None


_OUTCOME = re.compile(
    r"\b(?:CMJ|SJ|DJ|SLJ|RSI|[1-9]\d?RM|MVI?C|EMG|CSA|RFD|IMTP|RPE|VAS)\b"
    r"|(?i:\b(?:torque|thickness|height|force|velocity|girth|sprint|score|repetitions|pennation|fascicle)\b)"
)  # what is measured, and no people


def _implied_group(
    column: Column, names: Sequence[tuple[str, str]], columns: Sequence[Column], compared: bool, several: bool
) -> str | None:
    for text, name in names:
        if read_unit(name) or is_region(name) or _OUTCOME.search(name):
            continue
        upper = text is not column.parts[-1]
        if upper and any(column.parts[0] in c.parts and c.timepoint for c in columns):
            return name
        statistic = read_phrase(text).kind is not Kind.PLAIN
        alone = not upper and len(column.parts) == 1 and column.kind is not Kind.P
        if alone and several and (compared or statistic):
            return name
    return None


_KIND_WORDS = re.compile(
    r"(?:\b(?:mean|percent(?:age)?) )?[%Δ∆]?\s?\b(?:changes?|differences?|gains?|increase|average|mean|median"
    r"|min(?:imum)?"
    r"|max(?:imum)?|(?:^|(?<=\()|(?<=min-max ))range|ES|SMD|MD|OR|RR|HR|[dg]|ratio|effect size|cohen'?s|hedges'?"
    r"|diff\.?|p|lower|upper|n)\b\s?%?|[Δ∆]\s?%?|\(\s?\)",
    re.IGNORECASE,
)


def _without_kind(phrase: Phrase) -> str:
    """ "Full range, change (95% CI)" without what it measures: "Full range"; "" when nothing or only a unit
    is left.
    """
    rest = tidy_label(_KIND_WORDS.sub(" ", phrase.rest)).strip(" ,;:-–()")
    return "" if rest.startswith("%") or not re.search(r"[^\W\d_]", rest) else rest
