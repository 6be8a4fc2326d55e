"""What people judged of a study's risk of bias, told as lines: in words, with the rule behind each and who differs."""

from collections.abc import Sequence

from evidence.appraisal.bias_tools import Judged
from evidence.appraisal.origins import explain_origins, mark_origin
from evidence.appraisal.raters import Judgements
from evidence.catalogue.queries import StudyRows
from evidence.catalogue.tables import Rating
from evidence.publishing.bias_mark import mark_bias
from evidence.workflows.judge.judging import StudyJudged
from evidence.workflows.relevance.bias_ratings import STUDY_FILE, StudyRatings, by_tools, words_of


def tell_judged(judged: Judged) -> list[str]:
    """A person's own judgement: every domain with the rule that fired, what was chosen over it, what is still open."""
    whole, lines = judged.judgement, [judged.tool.name]
    for d in whole.domains:
        if d.judgement is None:
            lines.append(f"  {d.name}: open; still to answer: {', '.join(d.missing)}")
            continue
        told = f"  {d.name}: {d.judgement}"
        if d.chosen is not None:
            told += f" (proposed {d.proposed or 'nothing yet'}; chosen because {d.reason.rstrip('.')})"
        elif d.because:
            told += f" ({d.because}){mark_origin(d.conf)}"
        lines.append(told)
    if judged.points is not None:
        lines.append(f"  total: {judged.points.total} of {judged.points.maximum}")
    if judged.from_points and whole.chosen is None:
        lines.append(f"  these points suggest: {judged.from_points}; it counts only if you --choose it")
    if whole.domains or whole.chosen:
        told = f"  overall: {mark_bias(judged.overall, whole.words)}"
        if whole.chosen is not None:
            told += f" (proposed {whole.proposed}; chosen because {whole.reason.rstrip('.')})"
        lines.append(told)
    if whole.note:
        lines.append(f"  {whole.note}")
    return [*lines, *(f"  {text}" for text in explain_origins(proposed_by(judged)))]


def proposed_by(judged: Judged) -> list[str]:
    """Where the rules are from that gave what holds: of what a person chose otherwise none did."""
    return [
        d.conf for d in judged.judgement.domains if d.judgement is not None and d.chosen is None and d.because
    ]


def tell_outcome(done: StudyJudged) -> list[str]:
    """What a judgement changed of what is weighed."""
    lines = []
    if not done.stored:
        lines.append("Nothing new: this is what you judged before.")
    if done.before != done.now:
        lines.append(f"Weighed of {done.study} until now: {done.before}; from now on: {done.now}.")
    else:
        lines.append(f"Weighed of {done.study}: {done.now}, as before.")
    if done.not_settled:
        lines.append(
            f"People differ on {', '.join(done.not_settled)}; the more cautious judgement counts until it is settled: "
            f'steelyard study settle {done.study} DOMAIN JUDGEMENT --because "..."'
        )
    return lines


def tell_bias(rows: StudyRows, ratings: Sequence[Rating]) -> list[str]:
    """Risk of bias as `study show` has it: what is weighed, and what each person judged, tool by tool."""
    bias = rows.study.bias or {}
    overall = str(bias.get("overall") or "not assessed")
    if overall == "not assessed" and not ratings and bias.get("score") is None:
        return [f"  risk of bias: not assessed (steelyard study judge {rows.study.key})"]
    read = by_tools(ratings)
    words = words_of(read[0].tool) if read else ()
    tool = f" ({bias['tool']})" if bias.get("tool") else ""
    lines = [f"  risk of bias: {mark_bias(overall, words)}{tool}"]
    if bias.get("score") is not None:
        lines.append(
            f"    PEDro total: {bias['score']:g} of 10"
            if "PEDro" in tool or read
            else f"    score: {bias['score']:g}"
        )
    for one in read:
        lines += tell_tool(one)
    for rating in ratings:
        if rating.person == STUDY_FILE:
            lines.append(f"    the study file said: {rating.value} ({rating.tool})")
    if not read:
        lines += [
            f"    {d['domain']}: {d['judgement']}" + (f" ({d['reason']})" if d.get("reason") else "")
            for d in bias.get("domains", ())
        ]
    return lines


def tell_tool(read: StudyRatings) -> list[str]:
    """What people judged by one tool."""
    lines = [f"    {read.tool.name}, by {' and '.join(read.people or tuple(o.person for o in read.totals))}:"]
    lines += [f"      {tell_domain(d)}" for d in read.domains]
    lines += [f"      total: {o.person} {o.value}" for o in read.totals]
    if read.overall is not None:
        lines.append(f"      {tell_domain(read.overall)}")
    return lines


def tell_domain(item: Judgements) -> str:
    """A domain with what holds, and with each person's word and reason where there is more than one."""
    holds = item.holds or "open"
    if len(item.opinions) == 1 and item.settlement is None:
        only = item.opinions[0]
        proposed = f"; proposed {only.proposed}" if only.proposed and only.proposed != only.value else ""
        why = f" ({only.reason}{proposed})" if only.reason or proposed else ""
        return f"{item.name}: {holds}{why}"
    reasons = "; ".join(f"{o.person}: {o.reason}" for o in item.opinions if o.reason)
    told = f"{item.name}: {holds}. {item.told()}"
    if item.settlement is not None:
        reasons = (
            f"{reasons}; {item.settlement.person}: {item.settlement.reason}"
            if reasons
            else item.settlement.reason
        )
    return f"{told} [{reasons}]" if reasons and (item.disagree or item.settlement) else told
