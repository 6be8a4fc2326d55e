"""One claim as a page shows it: weighed once, with what people decided of it and what was found of it before."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from evidence.appraisal.raters import Judgements
from evidence.catalogue import Catalogue
from evidence.catalogue.queries import appraisals_of, studies_of_reference, study_rows_of
from evidence.catalogue.queries.judgement import links_of_claim, ratings_of_claim
from evidence.catalogue.queries.standings import SEEN
from evidence.catalogue.tables import Appraisal
from evidence.publishing.briefs import Brief
from evidence.workflows.claims.ratings import collect_ratings
from evidence.workflows.documents.briefing import make_brief
from evidence.workflows.making import seen_now
from evidence.workflows.relevance.linked_sources import LinkedSource, read_links
from evidence.workflows.weigh.weighing import Weighing, weigh


@dataclass(frozen=True, slots=True)
class FoundBefore:
    """What was found of a claim on one day. `level` is empty where its kind is not graded; `seen`: by whom."""

    at: datetime
    verdict: str
    level: str
    studies: int
    seen: str


COMMAND = re.compile(r': steelyard claim falsifier \S+ "\.\.\."')
ON_THE_PAGE = '; write it down below, under "What would make you give it up".'


@dataclass(frozen=True, slots=True)
class ClaimPage:
    """One claim on the catalogue as it stands. `before`: what was found earlier, newest first."""

    weighing: Weighing
    brief: Brief
    judged: dict[str, Judgements]
    sources: tuple[LinkedSource, ...]
    before: tuple[FoundBefore, ...]


def show_claim_page(catalogue: Catalogue, key: str) -> ClaimPage:
    """A claim, weighed once; nothing is stored. Raises NotFound."""
    weighing = weigh(catalogue, key)
    brief = in_page_terms(make_brief(catalogue, weighing, seen_now(catalogue)))
    with catalogue.reading() as session:
        judged = collect_ratings(ratings_of_claim(session, weighing.claim))
        links = links_of_claim(session, weighing.claim)
        reported = [s for _, reference in links for s in studies_of_reference(session, reference)]
        rows = {r.study.key: r for r in study_rows_of(session, list({s.id: s for s in reported}.values()))}
        former = appraisals_of(session, weighing.claim)
    rows |= {s.rows.study.key: s.rows for s in weighing.studies}
    weighed = [c.study for c in weighing.contributions]
    return ClaimPage(
        weighing,
        brief,
        judged,
        read_links(links, list(rows.values()), weighed),
        tell_former(former, graded=weighing.graded),
    )


def in_page_terms(brief: Brief, instead: str = ON_THE_PAGE) -> Brief:
    """A brief without commands for a terminal: `instead` stands where one was (a file that goes out needs none)."""
    return replace(brief, changes=tuple(COMMAND.sub(instead, line) for line in brief.changes))


def tell_former(appraisals: Sequence[Appraisal], *, graded: bool) -> tuple[FoundBefore, ...]:
    """Earlier findings, newest first."""
    return tuple(
        FoundBefore(
            a.at,
            str(a.body.get("verdict", a.verdict)),
            a.confidence if graded else "",
            a.k,
            str((a.body.get(SEEN) or {}).get("by", "")),
        )
        for a in reversed(appraisals)
    )
