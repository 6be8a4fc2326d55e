"""How far people who rated the same things agree: on studies' risk of bias, and on the domains of claims."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evidence.appraisal.raters import AgreementOfTwo, Judgements, compare_raters, tell_agreement
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import study_by_key
from evidence.catalogue.queries.judgement import ratings_of_studies, ratings_of_study
from evidence.catalogue.tables import Rating
from evidence.workflows.judge.judgement_told import tell_domain
from evidence.workflows.relevance.bias_ratings import by_tools

SOURCE = "Cohen 1960; interval after Fleiss, Cohen & Everitt 1969."


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One domain of a study or claim that people judged differently."""

    of: str
    domain: str
    told: str
    settled: bool


@dataclass(frozen=True, slots=True)
class AgreementFound:
    """Agreement by pair of people and tool, what they differ on, and all of it as lines."""

    pairs: tuple[tuple[str, AgreementOfTwo], ...]  # tool, the two
    disagreements: tuple[Disagreement, ...]
    lines: tuple[str, ...]


def agreement_on_studies(catalogue: Catalogue, study: str | None = None) -> AgreementFound:
    """Agreement on the domains of risk of bias, over all studies or in one. Raises NotFound for an unknown study."""
    with catalogue.reading() as session:
        if study is None:
            found = [(s.key, rating) for s, rating in ratings_of_studies(session)]
        else:
            row = study_by_key(session, study)
            found = [(row.key, rating) for rating in ratings_of_study(session, row)]
    judged: list[tuple[str, str, Judgements]] = []
    whole: list[tuple[str, str, Judgements]] = []
    for key, ratings in grouped(found).items():
        for read in by_tools(ratings):
            judged += [(read.tool.name, key, item) for item in read.domains]
            whole += [(read.tool.name, key, read.overall)] if read.overall else []
    return describe(judged, f"steelyard study settle {study or 'STUDY'} DOMAIN JUDGEMENT", whole)


def grouped(found: Iterable[tuple[str, Rating]]) -> dict[str, list[Rating]]:
    """Ratings by what they are of, in the order given."""
    groups: dict[str, list[Rating]] = {}
    for key, rating in found:
        groups.setdefault(key, []).append(rating)
    return groups


def describe(
    judged: Sequence[tuple[str, str, Judgements]],
    settling: str,
    whole: Sequence[tuple[str, str, Judgements]] = (),
) -> AgreementFound:
    """Agreement over (tool, key, judgements), tool by tool.

    Judgements of the `whole` follow from the domains, so they count in no percentage; where people differ is told.
    """
    pairs: list[tuple[str, AgreementOfTwo]] = []
    lines: list[str] = []
    for tool in dict.fromkeys(name for name, _, _ in judged):
        own = compare_raters(item for name, _, item in judged if name == tool)
        pairs += [(tool, two) for two in own]
        if own:
            lines += [f"{tool}:", *(f"  {tell_agreement(two)}" for two in own)]
    differing = tuple(
        Disagreement(key, item.name, tell_domain(item), item.settled)
        for _, key, item in (*judged, *whole)
        if item.disagree
    )
    if not pairs and not differing:
        return AgreementFound((), (), ("Nothing has been rated by two people yet.",))
    lines.append(f"  {SOURCE}" if pairs else "No single domain has been rated by two people yet.")
    if differing:
        lines += ["They differ on:", *(f"  {d.of}, {d.told}" for d in differing)]
    if any(not d.settled for d in differing):
        lines.append(f'Settle one: {settling} --because "..."')
    return AgreementFound(tuple(pairs), differing, tuple(lines))
