"""Those a programme is for, held against those who were studied."""

import re
from collections.abc import Collection, Sequence

from evidence.catalogue.tables import People
from evidence.reading.programme_model import Audience, Programme
from evidence.vocabulary import Vocabulary
from evidence.workflows.programmes.bearing_claims import BearingClaim
from evidence.workflows.relevance.bearing import status_distance
from evidence.workflows.weigh.claims_in_words import name_groups

YEARS_APART = 10  # of a mean age from the ages a programme is for, before it is told; project


def tell_audience(programme: Programme, vocabulary: Vocabulary) -> str:
    """Who the programme is for."""
    audience = programme.audience
    status = vocabulary.training_statuses.get(audience.training_status or "")
    parts = [status.name if status else audience.training_status, audience.sex, audience.age, audience.health]
    told = ", ".join(part for part in parts if part)
    return told or audience.text or ""


def compare_audience(
    programme: Programme, weighed: Collection[BearingClaim], vocabulary: Vocabulary
) -> list[str]:
    """Where those the programme is for differ from those who were studied, a line for each claim."""
    gaps = []
    for w in weighed:
        groups = [people for rows in w.studies for people in rows.people]
        if reasons := list_differences(programme.audience, groups, vocabulary):
            who = name_groups(groups, vocabulary)
            gaps.append(f"{w.statement}: studied in {who} ({'; '.join(reasons)}).")
    return gaps


def list_differences(audience: Audience, groups: Sequence[People], vocabulary: Vocabulary) -> list[str]:
    """In what the people of a claim's studies differ from an audience: status, sex, age, health."""
    reasons = []
    statuses = {p.training_status for p in groups} - {"not stated"}
    if audience.training_status and statuses and audience.training_status not in statuses:
        apart = [status_distance(audience.training_status, s, vocabulary) for s in statuses]
        if all(a is None or a > 0 for a in apart):
            reasons.append("another training status")
    sexes = {p.sex for p in groups} - {"not stated"}
    if sexes and "both" not in sexes and len(sexes) == 1 and audience.sex not in sexes:
        reasons.append(f"only {'women' if sexes == {'female'} else 'men'} were studied")
    if (ages := read_ages(audience.age)) and (
        means := [p.age_mean for p in groups if p.age_mean is not None]
    ):
        low, high = ages
        if all(mean < low - YEARS_APART or mean > high + YEARS_APART for mean in means):
            told = f"{min(means):g}" if min(means) == max(means) else f"{min(means):g} to {max(means):g}"
            reasons.append(f"their mean age was {told}")
    health = {p.health for p in groups} - {"not stated", "healthy"}
    if health and audience.health not in health:
        reasons.append(f"people with {', '.join(sorted(health))}")
    return reasons


def read_ages(text: str | None) -> tuple[float, float] | None:
    """The ages that a text names: "20-45", "65+", "over 60", "17"."""
    figures = [float(f) for f in re.findall(r"\d{1,3}", text or "")]
    if not figures:
        return None
    if len(figures) == 1 and re.search(r"\+|over|older|from|above|and up", text or "", re.IGNORECASE):
        return figures[0], 120.0
    return min(figures), max(figures)


def words_of_age(text: str | None) -> str:
    """The words that an age calls cautions up by: "youth" under 18, "older" from 65 on."""
    ages = read_ages(text)
    if ages is None:
        return ""
    youngest, oldest = ages
    older = youngest >= 60 or 65 <= oldest < 120
    return " ".join(word for word, holds in (("youth", youngest < 18), ("older", older)) if holds)
