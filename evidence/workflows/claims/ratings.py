"""What people chose over the proposed confidence of a claim, as kept: each person's rating, what holds, the override.

Rows of the table `rating` with tool `confidence`: one per person and domain, the last one counts; a row whose answers
hold `settles` settles a disagreement. What holds is written as one row of `override` per domain: what is weighed.
"""

from collections.abc import Sequence

from evidence.appraisal.confidence import Confidence, format_levels
from evidence.appraisal.facts import DOMAINS
from evidence.appraisal.levels import ORDER as LEVELS
from evidence.appraisal.levels import read_level
from evidence.appraisal.overrides import OVERALL, read_levels
from evidence.appraisal.raters import Judgements, Opinion, Settlement
from evidence.catalogue.queries import overrides_of
from evidence.catalogue.queries.judgement import ratings_of_claim
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Claim, Override, Rating
from evidence.errors import BadInput

TOOL = "confidence"
LEVEL_WORDS = ("0", "−1", "−2", "−3")
WORDS = {
    "not serious": 0, "no concern": 0, "none": 0, "serious": -1, "very serious": -2, "extremely serious": -3,
}  # fmt: skip


def order_of(domain: str) -> tuple[str, ...]:
    """What a domain can be rated, least cautious first."""
    return tuple(str(level) for level in reversed(LEVELS)) if domain == OVERALL else LEVEL_WORDS


def read_domain(text: str) -> str:
    """A domain from a person's word: `risk of bias`, `bias`, `imprecision`, `overall`. Raises BadInput."""
    wanted = "_".join(text.strip().casefold().replace("_", " ").split())
    wanted = "risk_of_bias" if wanted == "bias" else wanted
    if wanted not in (*DOMAINS, OVERALL):
        names = ", ".join(d.replace("_", " ") for d in (*DOMAINS, OVERALL))
        raise BadInput(f"no domain is called {text!r}", hint=f"Use one of: {names}.")
    return wanted


def read_value(domain: str, text: str) -> str:
    """A rating from a person's word: levels (`-1`, `serious`) of a domain, a level (`low`) of the whole. BadInput."""
    if domain == OVERALL:
        try:
            return str(read_level(text))
        except ValueError:
            raise BadInput(
                f"{text!r} is no level of confidence", hint="Use high, moderate, low or very low."
            ) from None
    plain = " ".join(text.strip().casefold().replace("-", " -").replace("_", " ").split())
    if plain in WORDS:
        return format_levels(WORDS[plain])
    try:
        return format_levels(read_levels(text))
    except BadInput:
        raise BadInput(
            f"{text!r} is no rating of a domain",
            hint="Use 0 (not serious), -1 (serious), -2 (very serious) or -3 (extremely serious).",
        ) from None


def tell_value(domain: str, value: str) -> str:
    """A rating as people read it: `−1 (serious)`."""
    if domain == OVERALL or value not in LEVEL_WORDS:
        return value
    return f"{value} ({list(WORDS)[(0, 3, 4, 5)[LEVEL_WORDS.index(value)]]})"


def collect_ratings(ratings: Sequence[Rating]) -> dict[str, Judgements]:
    """What people rated of a claim, by domain, in the order of the domains."""
    found: dict[str, Judgements] = {}
    for domain in (*DOMAINS, OVERALL):
        rows = [r for r in ratings if r.tool == TOOL and r.domain == domain]
        last = {r.person: r for r in rows if "settles" not in r.answers}
        settled = next((r for r in reversed(rows) if "settles" in r.answers), None)
        if not last:
            continue
        opinions = tuple(
            Opinion(r.person, r.value, r.reason, str(r.answers.get("proposed", "")), r.at.date().isoformat())
            for r in last.values()
        )
        settlement = None
        if settled is not None:
            between = tuple(sorted((str(p), str(v)) for p, v in settled.answers["settles"].items()))
            settlement = Settlement(
                settled.person, settled.value, settled.reason, settled.at.date().isoformat(), between
            )
        name = domain.replace("_", " ")
        found[domain] = Judgements(domain, name, opinions, order_of(domain), settlement)
    return found


def keep_former_choice(session: ChangingSession, claim: Claim, domain: str) -> None:
    """A choice stored before people's ratings were kept apart becomes the rating of the person who made it."""
    rows = [r for r in ratings_of_claim(session, claim) if r.domain == domain and r.tool == TOOL]
    if rows:
        return
    for former in overrides_of(session, claim):
        if former.domain == domain:
            session.add(
                Rating(
                    claim_id=claim.id,
                    tool=TOOL,
                    domain=domain,
                    value=former.chosen.replace("-", "−") if domain != OVERALL else former.chosen,
                    answers={
                        "proposed": former.proposed,
                        "inputs_hash": former.inputs_hash,
                        "rule_set": former.rule_set,
                        "rule_version": former.rule_version,
                    },
                    reason=former.reason,
                    person=former.person,
                    at=former.at,
                )
            )
    session.flush()


def write_override(session: ChangingSession, claim: Claim, domain: str, confidence: Confidence) -> None:
    """Make the domain's override from what people rated; none where nobody did."""
    assert claim.id is not None
    for former in overrides_of(session, claim):
        if former.domain == domain:
            session.delete(former)
    session.flush()
    rows = [r for r in ratings_of_claim(session, claim) if r.domain == domain and r.tool == TOOL]
    judged = collect_ratings(rows).get(domain)
    if judged is None or judged.holds is None:
        return
    holder = next((r for r in reversed(rows) if r.value == judged.holds), rows[-1])
    people = [o.person for o in judged.given if o.value == judged.holds]
    reason = judged.why
    if judged.settled and judged.settlement is not None:
        people, reason = [judged.settlement.person], judged.settlement.reason
    elif judged.disagree:
        people = [o.person for o in judged.given]
        each = "; ".join(f"{o.person} {o.value}: {o.reason}" for o in judged.given)
        reason = f"they differ and nothing is settled, so the more cautious counts. {each}"
    elif len(people) == 1:
        reason = judged.given[0].reason
    session.add(
        Override(
            claim_id=claim.id,
            domain=domain,
            proposed=proposed_of(confidence, domain),
            chosen=judged.holds,
            reason=reason,
            person=" and ".join(people),
            at=holder.at,
            inputs_hash=str(holder.answers.get("inputs_hash", "")),
            rule_set=str(holder.answers.get("rule_set", confidence.rule_set)),
            rule_version=str(holder.answers.get("rule_version", confidence.version)),
        )
    )
    session.flush()


def proposed_of(confidence: Confidence, domain: str) -> str:
    """What the rules propose of a domain, or of the whole."""
    if domain == OVERALL:
        return str(confidence.proposed_level)
    return format_levels(confidence.domain(domain).proposed)


def hash_of(confidence: Confidence, domain: str) -> str:
    """What has to change for a rating to be stale: the domain's own inputs, or those of the whole."""
    return confidence.inputs_hash if domain == OVERALL else confidence.domain(domain).inputs_hash
