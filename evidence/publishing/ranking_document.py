"""A ranking as a document for paper and word processors: the figure of each part, its table, and what it rests on."""

from dataclasses import replace

from evidence.publishing.document import (
    Block,
    Document,
    Figure,
    Notice,
    aside,
    bullets,
    cell,
    paragraph,
    prose,
    section,
    soft,
    sources,
    strong,
    table,
)
from evidence.publishing.ranking_pages import (
    HEAD,
    SCORE,
    name_part,
    pair_rows,
    part_rows,
    tell_facts,
    tell_orders,
)
from evidence.publishing.rankings import Ranking, describe_ranking, ranking_figure_text, ranking_svg

CAPTION = (
    "Left: each exercise against the comparator, with its 95 % interval. Right: the ladder of ranks; "
    "bar: rank interval, stroke: mean rank."
)


def ranking_document(ranking: Ranking) -> Document:
    """The ranking with everything it rests on."""
    blocks: list[Block] = [
        paragraph(f"Ranked by differences within studies ({ranking.metric.unit}); {ranking.first} first."),
        *(Notice(prose(text)) for text in ranking.cautions),
    ]
    for number in range(len(ranking.parts)):
        blocks += _part(ranking, number)
    told = (
        ("What forbids comparing raw figures", ranking.forbids),
        ("What the figures assume", (*ranking.assumptions, *tell_orders(ranking))),
        ("Notes", ranking.notes),
    )
    for title, lines in told:
        blocks += [section(title), bullets(lines)] if lines else []
    blocks += _studies(ranking)
    if ranking.left_out:
        blocks += [section("Left out"), bullets(f"{item.label}: {item.reason}" for item in ranking.left_out)]
    return Document(
        title=ranking.title,
        kicker="Ranking of exercises",
        blocks=(*blocks, *sources(ranking.references)),
        made=ranking.made,
        invented=ranking.invented,
        made_up=ranking.made_up,
    )


def _part(ranking: Ranking, number: int) -> list[Block]:
    part, name = ranking.parts[number], name_part(ranking, number)
    alone = ranking_svg(ranking, only=number, figure_id=f"ranking-{number + 1}")
    alt = f"Ranking. {name}. {describe_ranking(replace(ranking, parts=(part,)))} The table has the same figures."
    shares = (2.2, 2.8, 1.3, 0.9, 0.9, 1.1, 2.6)
    blocks: list[Block] = [
        section(name),
        Figure(
            alone, alt, prose("" if number else f"{CAPTION} {SCORE}"), ranking_figure_text(ranking, part, 78)
        ),
        bullets(part.told),
        table(f"Order: {name}", HEAD, part_rows(ranking, part), numeric=(2, 4, 5), shares=shares),
        paragraph(tell_facts(part)),
        *(aside(note) for note in part.notes),
    ]
    if pairs := pair_rows(ranking, part):
        head = ("Pair", "Difference [95 % interval]", "Studies with both")
        named = f"Every pair: {name}"
        blocks += [section("Every pair", 3), table(named, head, pairs, numeric=(2,), shares=(4, 3, 1.5))]
    return blocks


def _studies(ranking: Ranking) -> list[Block]:
    if not ranking.studies:
        return []
    rows = [
        (
            cell(
                s.label,
                *(prose(strong(notice)) for notice in s.notices),
                prose(soft(f"{s.people}; {s.design}")),
            ),
            str(s.n),
            ", ".join(s.exercises),
            ", ".join(s.regions),
            cell(f"{s.unit}; {s.normalisation}", prose(soft(", ".join(s.loads)))),
            s.bias,
        )
        for s in ranking.studies
    ]
    head = ("Study and people", "n", "Exercises", "Measured on", "Unit, scale and load", "Risk of bias")
    return [
        section("Studies"),
        table("Studies", head, rows, numeric=(1,), shares=(3, 0.6, 2.6, 2.2, 2.6, 1.4)),
    ]
