"""A ranking as a page: one self-contained HTML file, Markdown, and lines of text for a terminal."""

import textwrap
from collections.abc import Sequence
from typing import Any

from evidence.publishing.markdown import bullets, code_block, escape, heading, join_blocks, link, table
from evidence.publishing.rankings import (
    Ranking,
    RankingPart,
    ranking_figure_text,
    ranking_svg,
    tell_exercise,
    tell_figures,
    tell_p,
    tell_rank,
)
from evidence.publishing.sources import NO_ADVICE, Reference, name_invented, tell_invented
from evidence.publishing.templating import render

MOST_PAIRS = 66  # of twelve exercises; above that the table of every pair is longer than a page
MOST_STUDIES = 8  # named in one sentence; the table names all
HEAD = (
    "Exercise",
    "Difference [95 % interval]",
    "Studies with both",
    "Rank",
    "Mean rank",
    "P-score",
    "Mostly from",
)
SCORE = (
    "Rank: held by 95 % of simulated draws, 1 first. P-score: the mean chance of standing above another exercise "
    "(0 to 1). Dashed or hollow: by way of other exercises only."
)


def tell_facts(part: RankingPart) -> str:
    """What one part rests on: studies, people, and how far studies differ."""
    k = len(part.studies)
    named = f" ({', '.join(part.studies)})" if k <= MOST_STUDIES else ""
    text = f"{k} {'study' if k == 1 else 'studies'}{named}, {part.people} people."
    if part.q_df < 1:
        return f"{text} How far studies differ among themselves cannot be judged."
    spread = "" if part.i2 is None else f", I² {part.i2:.0f} %"
    return (
        f"{text} Between studies: tau² {part.tau2:.3g} (REML){spread}, Q {part.q:.2f} on {part.q_df} df "
        f"({tell_p(part.q_p)})."
    )


def tell_orders(ranking: Ranking) -> tuple[str, ...]:
    """Whether the order holds under other assumed correlations, and what changes."""
    if not ranking.orders:
        return ()
    lines = []
    for row in ranking.orders:
        values = ", ".join(f"{r:g}" for r in row.correlations)
        told = "; ".join(row.changes) or ("as shown" if row.pick == "usual" else "no change")
        lines.append(f"r {values} ({row.pick}): {told}.")
    if ranking.order_holds:
        return (*lines, "Order and clear differences are the same whichever correlation is assumed.")
    return (*lines, "What is clear, or the order, depends on the correlation that is assumed.")


def part_rows(ranking: Ranking, part: RankingPart) -> list[tuple[str, ...]]:
    """The table beside the figure."""
    return [
        (
            e.name,
            tell_exercise(ranking.metric, e),
            "" if e.estimate is None else str(e.k_direct),
            tell_rank(e),
            f"{e.mean_rank:.1f}",
            f"{e.p_score:.2f}",
            ", ".join(f"{s.study} {100 * s.share:.0f} %" for s in e.sources[:3]),
        )
        for e in part.exercises
    ]


def pair_rows(ranking: Ranking, part: RankingPart) -> list[tuple[str, ...]]:
    """Every pair of a part: the higher-ranked exercise minus the other; nothing for two, or for very many."""
    if len(part.exercises) < 3 or len(part.pairs) > MOST_PAIRS:
        return []
    return [
        (
            f"{p.first} against {p.second}",
            tell_figures(ranking.metric, p.estimate, p.low, p.high),
            str(p.k_direct),
        )
        for p in part.pairs
    ]


def study_rows(ranking: Ranking) -> list[tuple[str, ...]]:
    """One row a study."""
    return [
        (
            ". ".join([s.label, *s.notices]),
            str(s.n),
            f"{s.people}; {s.design}",
            ", ".join(s.exercises),
            ", ".join(s.regions),
            f"{s.unit}; {s.normalisation}",
            ", ".join(s.loads),
            s.bias,
        )
        for s in ranking.studies
    ]


STUDY_HEAD = (
    "Study",
    "n",
    "People and design",
    "Exercises",
    "Measured on",
    "Unit and scale",
    "Load",
    "Risk of bias",
)


def name_part(ranking: Ranking, number: int) -> str:
    """The heading of a part."""
    part = ranking.parts[number]
    if len(ranking.parts) == 1:
        return f"Against {part.comparator}"
    return f"Part {number + 1} of {len(ranking.parts)}: against {part.comparator}"


def ranking_html(ranking: Ranking) -> str:
    """The ranking as one self-contained HTML page."""
    return _filled(ranking, "page.html")


def ranking_fragment(ranking: Ranking) -> str:
    """The ranking's title and body alone, to stand within a page."""
    return _filled(ranking, "fragment.html")


def _filled(ranking: Ranking, layout: str) -> str:
    from markupsafe import Markup

    parts: list[dict[str, Any]] = [
        {
            "name": name_part(ranking, n),
            "facts": tell_facts(part),
            "told": part.told,
            "notes": part.notes,
            "rows": part_rows(ranking, part),
            "pairs": pair_rows(ranking, part),
            # made by our own template
            "figure": Markup(ranking_svg(ranking, only=n, figure_id=f"ranking-{n + 1}")),
        }
        for n, part in enumerate(ranking.parts)
    ]
    return render(
        "ranking.html",
        layout=layout,
        ranking=ranking,
        made=ranking.made,
        invented=ranking.invented,
        invented_text=tell_invented(ranking.invented, ranking.made_up),
        no_advice=NO_ADVICE,
        parts=parts,
        head=HEAD,
        score=SCORE,
        orders=tell_orders(ranking),
        study_head=STUDY_HEAD,
        studies=study_rows(ranking),
    )


def ranking_markdown(ranking: Ranking) -> str:
    """The ranking as Markdown (CommonMark with tables)."""
    blocks = [
        f"**{escape(tell_invented(True, ranking.made_up))}**" if ranking.invented else "",
        heading(1, ranking.title),
        escape(f"Ranked by differences within studies ({ranking.metric.unit}); {ranking.first} first."),
        *(f"> **Caution.** {escape(text)}" for text in ranking.cautions),
    ]
    for n, part in enumerate(ranking.parts):
        pairs = pair_rows(ranking, part)
        blocks += [
            heading(2, name_part(ranking, n)),
            code_block(ranking_figure_text(ranking, part, 92)),
            bullets(escape(text) for text in part.told),
            table(HEAD, part_rows(ranking, part)),
            escape(SCORE),
            escape(tell_facts(part)),
            bullets(escape(note) for note in part.notes),
            heading(3, "Every pair") if pairs else "",
            table(("Pair", "Difference [95 % interval]", "Studies with both"), pairs) if pairs else "",
        ]
    sources = [_source(n, r) for n, r in enumerate(ranking.references, 1)]
    blocks += [
        *_section("What forbids comparing raw figures", ranking.forbids),
        *_section("What the figures assume", (*ranking.assumptions, *tell_orders(ranking))),
        *_section("Notes", ranking.notes),
        heading(2, "Studies") if ranking.studies else "",
        table(STUDY_HEAD, study_rows(ranking)) if ranking.studies else "",
        *_section("Left out", [f"{o.label}: {o.reason}" for o in ranking.left_out]),
        heading(2, "Sources") if sources else "",
        "\n".join(sources),
        "---",
        escape(ranking.made.line),
        escape(NO_ADVICE),
    ]
    return join_blocks(blocks)


def _source(number: int, reference: Reference) -> str:
    notice = f"**{escape(reference.notice)}.** " if reference.notice else ""
    address = f" {link(reference.url, reference.url)}" if reference.url else ""
    return f"{number}. {notice}{escape(reference.text)}{address}"


def _section(title: str, items: Sequence[str]) -> list[str]:
    return [heading(2, title), bullets(escape(item) for item in items)] if items else []


def ranking_text(ranking: Ranking, width: int = 80, *, ascii_only: bool = False) -> str:
    """The whole ranking for a terminal."""
    lines: list[str] = [*_wrap(name_invented(ranking.made_up), width), ""] if ranking.invented else []
    lines += [*_wrap(ranking.title, width), ""]
    for text in ranking.cautions:
        lines += [*_wrap(f"Caution: {text}", width), ""]
    for n, part in enumerate(ranking.parts):
        if len(ranking.parts) > 1:
            lines += [f"Part {n + 1} of {len(ranking.parts)} (no study connects them):"]
        lines += [ranking_figure_text(ranking, part, width, ascii_only=ascii_only)]
        for text in (*part.told, tell_facts(part), *part.notes):
            lines += _wrap(f"- {text}", width, "  ")
        lines.append("")
    for title, items in (
        ("What forbids comparing raw figures:", ranking.forbids),
        ("What the figures assume:", (*ranking.assumptions, *tell_orders(ranking))),
        ("Notes:", ranking.notes),
        ("Left out:", [f"{o.label}: {o.reason}" for o in ranking.left_out]),
    ):
        if items:
            lines += [title, *(line for item in items for line in _wrap(f"- {item}", width, "  ")), ""]
    return "\n".join(lines).rstrip()


def _wrap(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=indent, subsequent_indent=indent + ("  " if indent else "")
    ) or [""]
