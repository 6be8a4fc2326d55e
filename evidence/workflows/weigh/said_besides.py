"""What has to be said with an answer of any kind: people that nobody studied, sources that speak where no figure does.

Both are laid over the answer once it is found; neither changes what is weighed or how it is rated.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from evidence.appraisal.verdict import VerdictKind
from evidence.appraisal.wording import Wordings
from evidence.catalogue.tables import Claim, People
from evidence.vocabulary import Vocabulary
from evidence.workflows.relevance.bearing import NOT_STATED
from evidence.workflows.relevance.linked_sources import RETRACTED, STANCES, LinkedSource, read_links
from evidence.workflows.weigh.claims_in_words import PEOPLE_BY_SEX
from evidence.workflows.weigh.weighed import Inputs, Weighing

SPEAKING = {"supports": "for it", "against": "against it", "mixed": "for and against"}


def say_besides(weighing: Weighing, inputs: Inputs, vocabulary: Vocabulary) -> Weighing:
    """The weighing with what has to be said beside its figure, or in place of one."""
    if weighing.kind.evidence != "results":
        return weighing
    if weighing.verdict.kind is VerdictKind.NOTHING_FOUND:
        weighed = [s.rows.study.key for s in weighing.studies]
        return tell_sources(weighing, read_links(inputs.links, inputs.rows, weighed))
    people = [p for s in weighing.studies for p in s.rows.people]
    return tell_people(weighing, other_people(weighing.claim, people, vocabulary))


def other_people(claim: Claim, people: Sequence[People], vocabulary: Vocabulary) -> str:
    """`Studied in men only; the claim is about women.`; empty where some of those it is about were studied.

    Only what is stated counts: of people of whom nothing is said nobody can tell.
    """
    sexes, statuses, healths = (
        {value for p in people if (value := getattr(p, name)) != NOT_STATED}
        for name in ("sex", "training_status", "health")
    )
    sex = claim.sex if claim.sex and sexes and not {claim.sex, "both"} & sexes else None
    wanted = claim.training_status
    status = wanted if wanted and statuses and not {wanted, "mixed"} & statuses else None
    health = claim.health if claim.health and healths and claim.health not in healths else None
    if not (sex or status or health):
        return ""
    studied = name_group(
        sexes if sex else (), statuses if status else (), healths if health else (), vocabulary
    )
    meant = name_group(
        [sex] if sex else (), [status] if status else (), [health] if health else (), vocabulary
    )
    return f"Studied in {studied} only; the claim is about {meant}."


def name_group(
    sexes: Iterable[str], statuses: Iterable[str], healths: Iterable[str], vocabulary: Vocabulary
) -> str:
    """`trained men with knee pain`, of the parts that are given."""
    known = vocabulary.training_statuses
    named = sorted(statuses, key=lambda s: ((known[s].rank if s in known else None) or 0, s))
    status = " and ".join(known[s].name if s in known else s for s in named)
    who = " and ".join(sorted(PEOPLE_BY_SEX.get(s, "people") for s in sexes)) or "people"
    ill = sorted(set(healths) - {"healthy"})
    healthy = "healthy" if healths and not ill else ""
    text = " ".join(part for part in (healthy, status, who) if part)
    return f"{text} with {', '.join(ill)}" if ill else text


def tell_people(weighing: Weighing, told: str) -> Weighing:
    """The sentence on other people beside the figure, in the verdict and at every length of the wording."""
    if not told:
        return weighing
    w = weighing.wordings
    aside = f"{told[:1].lower()}{told[1:-1]}"
    words = Wordings(
        f"{w.short.rstrip('.')} ({aside}).",
        f"{w.plain} {told}",
        f"{w.full} {told}",
        f"{w.cue} {told}" if w.cue else "",
    )
    sentence = f"{weighing.verdict.sentence} {told}".strip()
    return replace(weighing, verdict=replace(weighing.verdict, sentence=sentence), wordings=words)


def tell_sources(weighing: Weighing, linked: Sequence[LinkedSource]) -> Weighing:
    """Where no figure can be weighed, what linked sources say, counted by stance: a narrative, and called one."""
    speaking = [
        s for s in {s.key: s for s in linked}.values() if s.stance in SPEAKING and s.notice not in RETRACTED
    ]
    if not speaking:
        return weighing
    counts = Counter(s.stance for s in speaking)
    stances = ", ".join(f"{counts[stance]} {word}" for stance, word in SPEAKING.items() if counts[stance])
    sources = "1 linked source speaks" if len(speaking) == 1 else f"{len(speaking)} linked sources speak"
    order = list(STANCES)
    said = " ".join(f"{s.line()}." for s in sorted(speaking, key=lambda s: order.index(s.stance)))
    verdict = replace(
        weighing.verdict,
        text=f"no figures to weigh; {sources} of it: {stances}",
        sentence=f"A narrative, not a figure. {said}",
    )
    w = weighing.wordings
    more = f"{sources[:1].upper()}{sources[1:]} of it: {stances}; nothing could be weighed."
    words = replace(
        w, short=f"{w.short} {more}", plain=f"{w.plain} {more} {said}", full=f"{w.full} {more} {said}"
    )
    return replace(weighing, verdict=verdict, wordings=words)
