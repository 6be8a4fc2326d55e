"""Ratings of a study's risk of bias as kept: what each person judged, what holds, and what is therefore weighed.

Rows of the table `rating`: one per person, tool and domain (and `overall`, or `total` of a scale), the last one counts.
A row whose answers hold `settles` settles a disagreement. `study.bias` is made from them and is what is weighed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from evidence.appraisal.bias import ORDER as WORDS
from evidence.appraisal.bias import OVERALL, ROBINS_ORDER, combine_domains
from evidence.appraisal.bias_tools import BiasTool, Judged, list_questions, list_tools
from evidence.appraisal.raters import Judgements, Opinion, Settlement
from evidence.catalogue.tables import Rating
from evidence.reading.study_draft import BiasDomain, BiasDraft

OPEN, TOTAL, STUDY_FILE = "open", "total", "study file"


@dataclass(frozen=True, slots=True)
class StudyRatings:
    """All that people judged of one study by one tool. `overall` is None where nobody chose it over the domains."""

    tool: BiasTool
    domains: tuple[Judgements, ...]
    overall: Judgements | None
    totals: tuple[Opinion, ...] = ()

    @property
    def people(self) -> tuple[str, ...]:
        """Who judged, in the order in which they first did."""
        told = [*self.domains, *([self.overall] if self.overall else [])]
        return tuple(dict.fromkeys(o.person for j in told for o in j.opinions))

    @property
    def holds(self) -> str:
        """The overall judgement that is weighed: chosen or settled, else the least favourable domain that holds."""
        if self.overall is not None and self.overall.holds is not None:
            return self.overall.holds
        return combine_domains([d.holds for d in self.domains])

    @property
    def not_settled(self) -> tuple[str, ...]:
        """Names of domains on which people differ and nothing is settled."""
        told = [*self.domains, *([self.overall] if self.overall else [])]
        return tuple(j.name for j in told if j.disagree and not j.settled)


def words_of(tool: BiasTool) -> tuple[str, ...]:
    """The judgements of a tool, least cautious first."""
    return ROBINS_ORDER if tool.asks == "judgements" else WORDS


def rows_for(judged: Judged, answers: Mapping[str, str]) -> list[dict[str, Any]]:
    """A judgement as rows: domain, value, answers, reason. The last row is the whole, or the total of a scale."""
    asked: dict[str, str] = {p.key: p.domain for p in list_questions(judged.tool)}
    rows = [
        {
            "domain": d.domain,
            "value": d.judgement or OPEN,
            "answers": {
                "name": d.name,
                "answers": {key: value for key, value in answers.items() if asked[key] == d.name},
                "proposed": d.proposed,
                "because": d.because,
                "chosen": d.chosen is not None,
            },
            "reason": d.reason,
        }
        for d in judged.judgement.domains
    ]
    whole = judged.judgement
    if judged.tool.asks == "points":
        total = f"{judged.points.total} of {judged.points.maximum}" if judged.points else OPEN
        kept = {"answers": dict(answers), "points": judged.points.total if judged.points else None}
        rows.append({"domain": TOTAL, "value": total, "answers": kept, "reason": ""})
    proposed = judged.from_points if judged.tool.asks == "points" else whole.proposed
    said = {"name": OVERALL, "proposed": proposed, "chosen": whole.chosen is not None}
    value = whole.chosen or (OPEN if judged.tool.asks == "points" else whole.overall)
    rows.append({"domain": OVERALL, "value": value, "answers": said, "reason": whole.reason})
    return rows


def latest(ratings: Sequence[Rating], tool: str, person: str) -> dict[str, Rating]:
    """A person's last row of each domain by one tool; settlements are not a person's own judgement."""
    return {
        r.domain: r for r in ratings if r.tool == tool and r.person == person and "settles" not in r.answers
    }


def answers_of(rows: Mapping[str, Rating]) -> dict[str, str]:
    """The answers behind a person's rows."""
    return {key: str(value) for row in rows.values() for key, value in row.answers.get("answers", {}).items()}


def read_ratings(ratings: Sequence[Rating], tool: BiasTool) -> StudyRatings:
    """What people judged by one tool, from all rows of a study."""
    own = [r for r in ratings if r.tool == tool.id]
    people = list(dict.fromkeys(r.person for r in own if "settles" not in r.answers))
    by_person = {person: latest(own, tool.id, person) for person in people}
    settled = {r.domain: r for r in own if "settles" in r.answers}
    names = {
        d: str(row.answers.get("name", d))
        for rows in by_person.values()
        for d, row in rows.items()
        if d not in (TOTAL, OVERALL)
    }
    order = words_of(tool)
    domains = tuple(
        collect(d, name, [rows[d] for rows in by_person.values() if d in rows], settled.get(d), order)
        for d, name in names.items()
    )
    wholes = [rows[OVERALL] for rows in by_person.values() if OVERALL in rows]
    overall = None
    if OVERALL in settled or any(row.answers.get("chosen") for row in wholes):
        overall = collect(OVERALL, OVERALL, wholes, settled.get(OVERALL), order)
    totals = tuple(as_opinion(rows[TOTAL]) for rows in by_person.values() if TOTAL in rows)
    return StudyRatings(tool, domains, overall, totals)


def collect(
    domain: str, name: str, rows: Sequence[Rating], settled: Rating | None, order: tuple[str, ...]
) -> Judgements:
    """What people said of one domain, with the settlement where there is one."""
    settlement = None
    if settled is not None:
        between = tuple(sorted((str(p), str(v)) for p, v in settled.answers["settles"].items()))
        settlement = Settlement(
            settled.person, settled.value, settled.reason, settled.at.date().isoformat(), between
        )
    return Judgements(domain, name, tuple(as_opinion(row) for row in rows), order, settlement)


def as_opinion(row: Rating) -> Opinion:
    """A row as one person's opinion; without a reason of their own, the rule that fired."""
    because = str(row.answers.get("because") or "")
    return Opinion(
        row.person,
        row.value,
        row.reason or because,
        str(row.answers.get("proposed") or ""),
        row.at.date().isoformat(),
    )


def by_tools(ratings: Sequence[Rating]) -> tuple[StudyRatings, ...]:
    """What people judged, tool by tool, the one used last first."""
    known = {tool.id: tool for tool in list_tools()}
    used = list(dict.fromkeys(r.tool for r in reversed(ratings) if r.tool in known))
    return tuple(read_ratings(ratings, known[name]) for name in used)


def weighed_bias(ratings: Sequence[Rating], former: Mapping[str, Any]) -> dict[str, Any]:
    """What is weighed of a study: the domain tool used last; a PEDro total beside it; else what the study file said."""
    read = by_tools(ratings)
    pedro = next((t for t in read if t.tool.id == "pedro" and t.totals), None)
    score = points_of(ratings) if pedro else former.get("score")
    chosen = next((t for t in read if t.tool.by_domain and t.domains), None)
    if chosen is None:
        chosen = next((t for t in read if t.overall is not None and t.overall.holds), None)
    if chosen is None:
        return {
            **former,
            "tool": former.get("tool") or (pedro.tool.weighed_as if pedro else ""),
            "score": score,
        }
    domains = tuple(BiasDomain(d.name, d.holds, d.why) for d in chosen.domains if d.holds is not None)
    note = f"Judged by {' and '.join(chosen.people)}."
    if chosen.not_settled:
        note += f" They differ on {', '.join(chosen.not_settled)}: the more cautious judgement counts until settled."
    draft = BiasDraft(chosen.tool.weighed_as, chosen.holds, score, domains, note)
    return {**draft.as_document(), "not_settled": list(chosen.not_settled)}


def pedro_total(bias: Mapping[str, Any]) -> float | None:
    """The PEDro total kept with a study: rules that fall back on one read no other scale's points as PEDro."""
    score, tool = bias.get("score"), str(bias.get("tool") or "").casefold()
    if score is None or any(other in tool for other in ("testex", "minors")):
        return None
    return float(score)


def note_not_settled(bias: Mapping[str, Any], label: str) -> list[str]:
    """What is said where people judge a study's risk of bias differently and nothing is settled."""
    names = bias.get("not_settled") or ()
    if not names:
        return []
    return [
        f"{label}: people differ on its risk of bias ({', '.join(names)}); the more cautious judgement counts."
    ]


def points_of(ratings: Sequence[Rating]) -> float | None:
    """The mean PEDro total over the people who gave one."""
    totals = {
        r.person: r.answers["points"]
        for r in ratings
        if r.tool == "pedro" and r.domain == TOTAL and r.answers.get("points") is not None
    }
    return sum(totals.values()) / len(totals) if totals else None
