"""Which claims are due for another look, and why; and a look that was taken, with the date of the next.

Signals, times and intervals are those of `appraisal/rules/update_signals.yaml`. The clock is the catalogue's.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from evidence.appraisal.moves import (
    Standing,
    excludes_null,
    find_moves,
    find_signal,
    months_between_reviews,
)
from evidence.appraisal.rulebook import load_rules
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key
from evidence.catalogue.queries.evidence_changes import EvidenceChanges, evidence_changes
from evidence.catalogue.queries.standings import (
    SEEN,
    Weighed,
    all_uses,
    last_appraisals_naming,
    references_of_studies,
)
from evidence.catalogue.tables import Appraisal, Claim, Use
from evidence.errors import BadInput
from evidence.workflows.upkeep.standings import Present, copied, find_present, standing_of


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a claim is due: a signal of the rule data, in words, and from which day on."""

    signal: str
    text: str
    due: date


@dataclass(frozen=True, slots=True)
class Due:
    """A claim that is due for another look. `rests`: how many things published and other claims rest on it."""

    key: str
    statement: str
    level: str
    last_review: date
    reviewed_by: str  # empty: never reviewed; the day is that of its first weighing
    due: date
    reasons: tuple[Reason, ...]
    published: int
    other_claims: int

    @property
    def rests(self) -> int:
        """Things published and other claims that rest on it."""
        return self.published + self.other_claims


@dataclass(frozen=True, slots=True)
class Coming:
    """A claim for which nothing is due yet, and the day on which it will be."""

    due: date
    key: str
    statement: str


@dataclass(frozen=True, slots=True)
class Review:
    """What is due today, and what comes next. `coming`: the nearest dates of claims for which nothing is due yet.

    `questions`: what to ask of each (Garner et al. 2016, as the rule data have them).
    """

    today: date
    due: tuple[Due, ...]
    coming: tuple[Coming, ...]
    known: int
    questions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A review that was noted."""

    key: str
    level: str
    by: str
    next_review: date
    note: str


def find_due(catalogue: Catalogue, *, coming: int = 5) -> Review:
    """What is due for another look, first what most rests on."""
    present = find_present(catalogue)
    today = catalogue.today()
    bases = {claim: choose_review(rows) for claim, rows in present.weighed.items()}
    present.load_claims(bases)
    with catalogue.reading() as session:
        uses = all_uses(session)
        changes = EvidenceChanges()
        if bases:
            changes = evidence_changes(session, min(w.at for w in bases.values()))
        reports = references_of_studies(session, {n.reference for n in changes.notices})
        named = last_appraisals_naming(session, {study for studies in reports.values() for study in studies})
    # Of a claim that nobody weighed since and no notice concerns, only its age is to be looked at.
    moved = {claim for claim, base in bases.items() if base.number != present.weighed[claim][-1].number}
    moved |= {appraisal.claim_id for appraisal in named} | set(present.anew)
    moved &= set(bases)
    present.appraisals([n for c in moved for n in (bases[c].number, present.weighed[c][-1].number)])
    came = {study.key: study.last.date() for study in changes.studies.values() if study.steps}
    resting = count_resting(present.claims.values(), uses)
    found: list[Due] = []
    nexts: list[Coming] = []
    for number, base in bases.items():
        claim = present.claims[number]
        reasons = [age_reason(claim, base, present.confidence_now(number))]
        if (
            number in present.touched.by_rules
            or base.versions[1:] != present.weighed[number][-1].versions[1:]
        ):
            due = base.at.date() + timedelta(days=find_signal("U9")["due_days"])
            reasons.insert(0, Reason("U9", find_signal("U9")["if"], due))
        if number in moved:
            reasons = [*find_reasons(present, number, base, changes, reports, came, today), *reasons]
        due_now = [r for r in reasons if r.due <= today]
        if due_now:
            found.append(tell_due(present, claim, base, due_now, resting.get(number, (0, 0))))
        else:
            nexts.append(Coming(min(r.due for r in reasons), claim.key, claim.statement))
    found.sort(key=lambda d: (-d.rests, d.due, d.key))
    questions = tuple(load_rules("update_signals")["questions"])
    nexts.sort(key=lambda c: (c.due, c.key))
    return Review(today, tuple(found), tuple(nexts[:coming]), len(bases), questions)


def choose_review(rows: Iterable[Weighed]) -> Weighed:
    """The appraisal that was last reviewed; without any, the first there was."""
    listed = list(rows)
    reviewed = [row for row in listed if row.reviewed]
    return reviewed[-1] if reviewed else listed[0]


def find_reasons(
    present: Present,
    number: int,
    base: Weighed,
    changes: EvidenceChanges,
    reports: Mapping[str, frozenset[str]],
    came: Mapping[str, date],
    today: date,
) -> list[Reason]:
    """Every signal in what moved of a claim since its review, each with the day from which it is due.

    `reports`: studies by the references that report them; `came`: the day on which studies were last touched.
    """
    claim = present.claims[number]
    before, now = present.kept[base.number], present.now(number)
    was, stands = standing_of(before), standing_of(now)
    reasons = [
        Reason(move.signal, move.text, today)
        for move in find_moves(was, stands, claim.construct_id)
        if move.signal
    ]
    reasons += notice_reasons(before, now, base, changes, reports)
    reasons += study_reasons(before, now, came, was)
    return reasons


def notice_reasons(
    before: Appraisal,
    now: Appraisal,
    base: Weighed,
    changes: EvidenceChanges,
    reports: Mapping[str, frozenset[str]],
) -> list[Reason]:
    """Notices put since the review on references of studies that the claim rests, or rested, on.

    Of several changes of one reference the last says what stands: a notice that was taken back is no reason.
    """
    parts = ("studies", "left_out")
    keys = {row["study"] for a in (before, now) for part in parts for row in a.body.get(part, ())}
    rules = load_rules("update_signals")["notices"]
    found = []
    for notice in {n.reference: n for n in changes.notices}.values():
        if notice.step.at <= base.at or not keys & reports.get(notice.reference, frozenset()):
            continue
        rule = rules.get(notice.now or "")
        if rule is not None:
            due = notice.step.at.date() + timedelta(days=find_signal(rule["signal"])["due_days"])
            found.append(Reason(rule["signal"], f"{notice.reference} is {notice.now}. {rule['do']}", due))
    return found


def study_reasons(before: Appraisal, now: Appraisal, came: Mapping[str, date], was: Standing) -> list[Reason]:
    """Studies that bear on the claim and came since the review; one that finds the opposite is due at once."""
    known = {row["study"] for part in ("studies", "left_out") for row in before.body.get(part, ())}
    found = []
    for row in now.body.get("studies", ()):
        if row["study"] in known:
            continue
        day = came.get(row["study"], now.at.date())
        if opposes(row, was):
            found.append(Reason("U7", f"{row['study']} found the opposite of what was said", day))
        else:
            due = day + timedelta(days=find_signal("U3")["due_days"])
            found.append(Reason("U3", f"{row['study']} bears on it and came after the last review", due))
    return found


def opposes(row: Mapping[str, float | None], was: Standing) -> bool:
    """Whether a study's own interval lies wholly on the other side of what was said with a clear interval."""
    estimate, variance = row.get("estimate"), row.get("variance")
    if estimate is None or variance is None or was.estimate is None or not excludes_null(was):
        return False
    reach = 1.96 * math.sqrt(variance)
    return (estimate + reach < 0 < was.estimate) or (was.estimate < 0 < estimate - reach)


def age_reason(claim: Claim, base: Weighed, level: str) -> Reason:
    """The day on which the claim is too old: the one that was set, else by its level."""
    months = months_between_reviews(level)
    due = claim.review_due or add_months(base.at.date(), months)
    text = f"{months} months is the longest between two looks at {level} confidence"
    return Reason("U8", f"the day set for its review was {due}" if claim.review_due else text, due)


def add_months(day: date, months: int) -> date:
    """The same day some months later; the last of a month where that month is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    after = date(year + (month == 11), (month + 1) % 12 + 1, 1)
    return min(date(year, month + 1, 1) + timedelta(days=day.day - 1), after - timedelta(days=1))


def count_resting(claims: Iterable[Claim], uses: Iterable[Use]) -> dict[int, tuple[int, int]]:
    """By claim: the things published with it, and the other claims that name it among their terms."""
    listed = list(claims)
    published: dict[int, set[tuple[str, str]]] = {}
    for use in uses:
        if use.claim_id is not None:
            published.setdefault(use.claim_id, set()).add((use.kind, use.place or use.name))
    numbers = {claim.key: claim.id or 0 for claim in listed}
    others: dict[int, int] = {}
    for claim in listed:
        for key in (named_in(claim.terms) & numbers.keys()) - {claim.key}:
            others[numbers[key]] = others.get(numbers[key], 0) + 1
    return {n: (len(published.get(n, ())), others.get(n, 0)) for n in {*published, *others}}


def named_in(value: object) -> set[str]:
    """Every text in a nested value."""
    if isinstance(value, str):
        return {value}
    if isinstance(value, Mapping):
        return set().union(*(named_in(item) for item in value.values()))
    if isinstance(value, list | tuple):
        return set().union(*(named_in(item) for item in value))
    return set()


def tell_due(
    present: Present, claim: Claim, base: Weighed, reasons: list[Reason], resting: tuple[int, int]
) -> Due:
    """A claim that is due, whole."""
    mark = present.appraisals([base.number])[base.number].body.get(SEEN) or {} if base.reviewed else {}
    return Due(
        claim.key,
        claim.statement,
        present.confidence_now(claim.id or 0),
        base.at.date(),
        str(mark.get("by", "")) if base.reviewed else "",
        min(r.due for r in reasons),
        tuple(sorted(reasons, key=lambda r: (r.due, r.signal))),
        *resting,
    )


def mark_reviewed(
    catalogue: Catalogue, key: str, who: str, note: str = "", next_review: date | None = None
) -> Reviewed:
    """Note that a claim was looked at; the next look is due by its level, or on the day that is named.

    What stands now is kept as what was seen. Raises NotFound, and BadInput for a day that is not ahead.
    """
    from evidence.workflows.weigh.weighing import weigh_and_keep

    today = catalogue.today()
    if next_review is not None and next_review <= today:
        raise BadInput(f"{next_review} is not ahead: today is {today}.", hint="Name a later day with --next.")
    weighing = weigh_and_keep(catalogue, key, who)
    number = weighing.claim.id or 0
    present = find_present(catalogue, {number})
    level = str(weighing.confidence.level)
    due = next_review or add_months(today, months_between_reviews(level))
    mark = {"as": "reviewed", "by": who, "note": note.strip(), "next": due.isoformat()}
    with catalogue.changing(who, f"claim reviewed {key}") as session:
        session.add(copied(present.now(number), present.at, mark))
        claim = claim_by_key(session, key)
        claim.review_due = due
        session.add(claim)
    return Reviewed(key, level, who, due, note.strip())
