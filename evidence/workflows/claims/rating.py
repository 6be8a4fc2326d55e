"""Rating a claim's confidence by hand: a domain with a reason, taken back, settled; and by another rule set."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from evidence.appraisal.confidence import Confidence, combine_outcomes, format_levels
from evidence.appraisal.facts import DOMAINS, read_settings
from evidence.appraisal.levels import Level
from evidence.appraisal.raters import Judgements
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import claim_by_key
from evidence.catalogue.queries.judgement import ratings_of_claim, ratings_of_claims
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Claim, Rating
from evidence.errors import BadInput
from evidence.workflows.claims.ratings import (
    TOOL,
    collect_ratings,
    hash_of,
    keep_former_choice,
    proposed_of,
    read_domain,
    read_value,
    write_override,
)
from evidence.workflows.judge.agreeing import AgreementFound, describe, grouped
from evidence.workflows.opening import vocabulary_of
from evidence.workflows.weigh.proposing import RULE_SET, RULE_SETS, SETTINGS
from evidence.workflows.weigh.weighed import Weighing
from evidence.workflows.weigh.weighing import read_inputs, weigh, weigh_inputs

OFFERED = ("nrs_start", "single_study", "target")
CHOICES = {
    "nrs_start": ("grade18", "coregrade2025"),
    "single_study": ("flag_only", "kce"),
    "target": ("difference", "important"),
}


@dataclass(frozen=True, slots=True)
class RatingShown:
    """The confidence of a claim as it stands, with what people rated of each domain."""

    key: str
    statement: str
    confidence: Confidence
    judged: dict[str, Judgements]
    settings: dict[str, str]


@dataclass(frozen=True, slots=True)
class RuleSetRow:
    """One rule set's proposal for a claim: the levels of every domain, and the level of the whole."""

    rule_set: str
    version: str
    chosen: bool
    levels: tuple[tuple[str, str], ...]  # domain, proposed levels
    level: str
    span: str
    reasons: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Together:
    """Several claims on one decision: the level over all is the lowest among the critical ones (ACIP, chapter 10)."""

    level: Level
    rows: tuple[tuple[str, str, str, bool], ...]  # key, statement, level, critical


def show_rating(catalogue: Catalogue, key: str) -> RatingShown:
    """The rating of a claim on the catalogue as it stands. Raises NotFound, or BadInput for a claim not graded."""
    weighing = weigh_graded(catalogue, key)
    with catalogue.reading() as session:
        judged = collect_ratings(ratings_of_claim(session, claim_by_key(session, key)))
    settings = dict(weighing.claim.terms.get(SETTINGS) or {})
    return RatingShown(key, weighing.statement, weighing.confidence, judged, settings)


def weigh_graded(catalogue: Catalogue, key: str) -> Weighing:
    """A claim weighed; BadInput where its kind has no confidence to be rated."""
    weighing = weigh(catalogue, key)
    if not weighing.confidence.domains:
        raise BadInput(
            f"{key} is not evidence of an effect, so there is no confidence to rate.",
            hint="State what it predicts as a comparison, and rate that.",
        )
    return weighing


def rate_domain(
    catalogue: Catalogue, key: str, domain: str, value: str, reason: str, who: str
) -> RatingShown:
    """Store one person's rating of a domain (or `overall`); the proposal stays beside it. BadInput without a reason."""
    name = read_domain(domain)
    chosen = read_value(name, value)
    if not reason.strip():
        raise BadInput(
            "a rating needs a reason", hint='--because "..."; a sentence that is shown with the claim.'
        )
    proposed = weigh_graded(catalogue, key).confidence
    with catalogue.changing(who, f"claim rate {key} {name}") as session:
        claim = claim_by_key(session, key)
        keep_former_choice(session, claim, name)
        add_rating(session, claim, name, chosen, reason, who, catalogue.now(), proposed)
    return show_rating(catalogue, key)


def take_back(catalogue: Catalogue, key: str, domain: str, who: str) -> RatingShown:
    """Take one's own rating of a domain back (history keeps it). BadInput where this person rated nothing there."""
    name = read_domain(domain)
    proposed = weigh_graded(catalogue, key).confidence
    with catalogue.changing(who, f"claim rate {key} {name} --take-back") as session:
        claim = claim_by_key(session, key)
        keep_former_choice(session, claim, name)
        rows = [r for r in ratings_of_claim(session, claim) if r.domain == name and r.tool == TOOL]
        own = [r for r in rows if r.person == who]
        if not own:
            others = ", ".join(dict.fromkeys(r.person for r in rows))
            raise BadInput(
                f"You have rated nothing of {name.replace('_', ' ')} in {key}.",
                hint=f"It was rated by {others}." if others else None,
            )
        for row in own:
            session.delete(row)
        left = [r for r in rows if r.person != who]
        if all("settles" in r.answers for r in left):
            for row in left:
                session.delete(row)
        session.flush()
        write_override(session, claim, name, proposed)
    return show_rating(catalogue, key)


def settle_domain(
    catalogue: Catalogue, key: str, domain: str, value: str, reason: str, who: str
) -> RatingShown:
    """Settle a domain on which people differ; their own ratings stay. BadInput where nobody differs, or no reason."""
    name = read_domain(domain)
    chosen = read_value(name, value)
    if not reason.strip():
        raise BadInput("settling needs a reason", hint='--because "..."; it is shown with the claim.')
    proposed = weigh_graded(catalogue, key).confidence
    with catalogue.changing(who, f"claim settle {key} {name}") as session:
        claim = claim_by_key(session, key)
        judged = collect_ratings(ratings_of_claim(session, claim)).get(name)
        if judged is None or not judged.disagree:
            raise BadInput(
                f"Nobody differs on {name.replace('_', ' ')} of {key}.",
                hint="To rate it yourself: steelyard claim rate.",
            )
        settles = {o.person: o.value for o in judged.given}
        add_rating(session, claim, name, chosen, reason, who, catalogue.now(), proposed, {"settles": settles})
    return show_rating(catalogue, key)


def add_rating(
    session: ChangingSession,
    claim: Claim,
    name: str,
    chosen: str,
    reason: str,
    who: str,
    at: datetime,
    proposed: Confidence,
    answers: Mapping[str, Any] | None = None,
) -> None:
    """Keep what a person chose for a domain beside what was proposed then, and let it count."""
    session.add(
        Rating(
            claim_id=claim.id,
            tool=TOOL,
            domain=name,
            value=chosen,
            answers={
                **(answers or {}),
                "proposed": proposed_of(proposed, name),
                "inputs_hash": hash_of(proposed, name),
                "rule_set": proposed.rule_set,
                "rule_version": proposed.version,
            },
            reason=reason.strip(),
            person=who,
            at=at,
        )
    )
    session.flush()
    write_override(session, claim, name, proposed)


def compare_rule_sets(
    catalogue: Catalogue, key: str, names: tuple[str, ...] = RULE_SETS
) -> tuple[RuleSetRow, ...]:
    """What each rule set proposes for a claim, what people chose left aside. Raises BadInput for an unknown set."""
    kept = weigh_graded(catalogue, key).confidence.rule_set
    vocabulary = vocabulary_of(catalogue)
    inputs = read_inputs(catalogue, key, vocabulary)
    rows = []
    for name in names:
        terms = {**inputs.claim.terms, RULE_SET: require_rule_set(name)}
        claim = Claim(**{**inputs.claim.model_dump(), "terms": terms})
        proposed = weigh_inputs(replace(inputs, claim=claim, chosen=()), vocabulary).confidence
        rows.append(
            RuleSetRow(
                proposed.rule_set,
                proposed.version,
                proposed.rule_set == kept,
                tuple((d.domain, format_levels(d.proposed)) for d in proposed.domains),
                str(proposed.proposed_level),
                proposed.span,
                tuple((d.domain, d.reason) for d in proposed.domains),
            )
        )
    return tuple(rows)


def require_rule_set(name: str) -> str:
    """A rule set by its name. Raises BadInput naming those there are."""
    if name not in RULE_SETS:
        raise BadInput(f"no rule set is called {name!r}", hint=f"There are: {', '.join(RULE_SETS)}.")
    return name


def choose_rules(
    catalogue: Catalogue,
    key: str,
    who: str,
    rule_set: str | None = None,
    settings: dict[str, str] | None = None,
) -> RatingShown:
    """Keep a rule set or settings with a claim: it is rated by them from now on. Raises BadInput for an unknown one."""
    if rule_set is not None:
        require_rule_set(rule_set)
    for name, value in (settings or {}).items():
        if name not in OFFERED:
            raise BadInput(f"no setting is called {name!r}", hint=f"There are: {', '.join(OFFERED)}.")
        if value not in CHOICES[name]:
            raise BadInput(
                f"{value!r} is no value of {name}", hint=f"Use one of: {', '.join(CHOICES[name])}."
            )
    read_settings(settings)
    with catalogue.changing(who, f"claim rate {key} --rule-set {rule_set or 'settings'}") as session:
        claim = claim_by_key(session, key)
        terms = dict(claim.terms or {})
        if rule_set is not None:
            terms[RULE_SET] = rule_set
            if rule_set == "default":
                del terms[RULE_SET]
        if settings:
            terms[SETTINGS] = {**(terms.get(SETTINGS) or {}), **settings}
        claim.terms = terms
    return show_rating(catalogue, key)


def agreement_on_claims(catalogue: Catalogue, key: str | None = None) -> AgreementFound:
    """How far people agree on the domains of claims, over all of them or in one. Raises NotFound."""
    with catalogue.reading() as session:
        if key is None:
            found: list[tuple[Claim, Rating]] = ratings_of_claims(session)
        else:
            claim = claim_by_key(session, key)
            found = [(claim, rating) for rating in ratings_of_claim(session, claim)]
    judged = [
        ("Confidence, levels by domain", name, item)
        for name, ratings in grouped((claim.key, rating) for claim, rating in found).items()
        for item in collect_ratings(ratings).values()
    ]
    return describe(
        [one for one in judged if one[2].domain in DOMAINS],
        f"steelyard claim settle {key or 'CLAIM'} DOMAIN LEVEL",
        [one for one in judged if one[2].domain not in DOMAINS],
    )


def rate_together(catalogue: Catalogue, keys: tuple[str, ...], critical: tuple[str, ...] = ()) -> Together:
    """Several claims that one decision turns on: the lowest level among the critical ones; all where none is named."""
    other = [key for key in critical if key not in keys]
    if other:
        raise BadInput(
            f"{other[0]} is called critical and is not among the claims", hint="Name it with the others."
        )
    counted = critical or keys
    weighed = {key: weigh_graded(catalogue, key) for key in dict.fromkeys(keys)}
    rows = tuple((key, w.statement, str(w.confidence.level), key in counted) for key, w in weighed.items())
    return Together(combine_outcomes([weighed[key].confidence.level for key in counted]), rows)
