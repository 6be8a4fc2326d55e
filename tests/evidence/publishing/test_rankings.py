"""Rankings drawn and told: valid, readable without colour, honest about ties and gaps. All figures invented."""

import math
import xml.etree.ElementTree as ET  # our own output is parsed here, nothing foreign
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal.metrics import find_metric
from evidence.publishing.briefs import LeftOut
from evidence.publishing.ranking_pages import (
    pair_rows,
    part_rows,
    ranking_html,
    ranking_markdown,
    ranking_text,
    tell_facts,
    tell_orders,
)
from evidence.publishing.rankings import (
    GAP,
    OrderRow,
    Pair,
    RankedExercise,
    RankedStudy,
    Ranking,
    RankingPart,
    Share,
    describe_ranking,
    ranking_figure_text,
    ranking_svg,
    tell_rank,
)
from evidence.publishing.sources import Made, Reference

RATIO = find_metric("log_ratio_of_means")
SVG = "{http://www.w3.org/2000/svg}"


def make_part(names=("thrust", "bridge", "squat"), comparator="bridge", **changes):
    steps = range(len(names))
    exercises = tuple(
        RankedExercise(
            name,
            None if name == comparator else 0.1 - 0.1 * i,
            None if name == comparator else -0.1 - 0.1 * i,
            None if name == comparator else 0.3 - 0.1 * i,
            i % 2,
            max(0.0, 0.9 - 0.1 * i),
            float(i + 1),
            max(1, i),
            min(len(names), i + 2),
            () if name == comparator else (Share("Bramble 2011", 0.75), Share("Moorcock 2014", 0.25)),
        )
        for i, name in enumerate(names)
    )
    pairs = tuple(Pair(names[i], names[j], 0.1, -0.1, 0.3, 0) for i in steps for j in steps if i < j)
    part = RankingPart(
        comparator,
        exercises,
        pairs,
        ("Bramble 2011", "Moorcock 2014"),
        40,
        0.01,
        30.0,
        3.2,
        2,
        0.2,
        ("Not told apart: all.",),
        ("A note.",),
    )
    return replace(part, **changes)


def make_ranking(parts=None, **changes):
    ranking = Ranking(
        title="Muscle activation of the gluteus maximus, by exercise",
        region="gluteus_maximus",
        construct="activation",
        first="highest",
        scale="log_ratio_of_means",
        metric=RATIO,
        made=Made("5f2c9a1e0b77", "2026-11-25", "0.1.0"),
        parts=(make_part(),) if parts is None else tuple(parts),
        studies=(
            RankedStudy(
                "Bramble 2011",
                20,
                "trained people",
                "crossover",
                ("thrust", "bridge"),
                ("gluteus maximus",),
                "%MVIC",
                "isometric",
                ("10RM",),
                "low",
                ("corrected",),
            ),
        ),
        left_out=(LeftOut("Thistle 2015", "the report is retracted"),),
        forbids=("Loads differ between studies.",),
        orders=(
            OrderRow(
                "low", (0.3,), (("thrust", "squat"),), ("thrust and squat can no longer be told apart",)
            ),
            OrderRow("usual", (0.5,), (("thrust", "squat"),), ()),
        ),
        assumptions=("r = 0.5 was assumed.",),
        notes=("Details are lumped.",),
        cautions=("Stop if something hurts.",),
        references=(
            Reference("b", "Bramble B. [Invented] Hips.", "https://doi.org/10.5555/sy.b", "corrected"),
        ),
        invented=True,
    )
    return replace(ranking, **changes)


def texts(svg):
    return [node.text.replace("\u00a0", " ") for node in ET.fromstring(svg).iter(f"{SVG}text") if node.text]


def test_the_figure_has_real_text_a_title_and_a_description():
    svg = ranking_svg(make_ranking())
    root = ET.fromstring(svg)
    assert root.find(f"{SVG}title").text == make_ranking().title
    assert "thrust: +11 % [−9.5 % to 35 %], rank 1 to 2 of 3." in root.find(f"{SVG}desc").text.replace(
        "\u00a0", " "
    )
    assert {
        "thrust",
        "Against bridge",
        "the comparator",
        "Rank, 1 = highest",
        "+11 % [−9.5 % to 35 %]",
    } <= set(texts(svg))
    assert "Invented demonstration data" in texts(svg)


def test_the_figure_needs_no_colour():
    svg = ranking_svg(make_ranking())
    painted = {n.get(a) for n in ET.fromstring(svg).iter() for a in ("fill", "stroke") if n.get(a)}
    assert painted <= {"currentColor", "none"}


def test_indirect_comparisons_are_drawn_otherwise_than_direct_ones():
    root = ET.fromstring(ranking_svg(make_ranking()))
    dashed = [n for n in root.iter(f"{SVG}path") if n.get("stroke-dasharray") == "5 3"]
    hollow = [n for n in root.iter(f"{SVG}path") if n.get("fill") == "none" and "z" in (n.get("d") or "")]
    # thrust and squat have k_direct 0; the comparator's own hollow square comes on top of their diamonds
    assert len(dashed) == 2
    assert len(hollow) == 3


def test_parts_that_are_not_connected_stand_apart_with_the_gap_told():
    ranking = make_ranking([make_part(), make_part(("swing", "press"), "press")])
    assert texts(ranking_svg(ranking)).count(GAP) == 1
    assert GAP in describe_ranking(ranking)
    assert GAP not in texts(ranking_svg(ranking, only=1))
    assert "thrust" not in texts(ranking_svg(ranking, only=1))
    assert "Part 2 of 2 (no study connects them)" in ranking_text(ranking)
    assert "Part 2 of 2: against press" in ranking_html(ranking)


def test_an_interval_off_the_scale_ends_in_an_arrow_and_keeps_its_figures():
    wild = RankedExercise("wild", 0.05, -30.0, 30.0, 1, 0.5, 2.0, 1, 3)
    part = make_part(exercises=(*make_part(("a", "b", "c", "d", "e"), "b").exercises, wild))
    assert "◄" in ranking_figure_text(make_ranking([part]), part)
    assert "►" in ranking_figure_text(make_ranking([part]), part)
    assert any(t.startswith("+5.1 % [−100 % to") for t in texts(ranking_svg(make_ranking([part]))))


def test_every_estimate_stands_on_the_axis():
    part = make_part(("a", "b", "c", "d", "e", "f", "g"), "a")
    far = replace(part.exercises[6], estimate=-3.0, low=-3.1, high=-2.9)
    part = replace(part, exercises=(*part.exercises[:6], far))
    assert "◄" not in ranking_figure_text(make_ranking([part]), part)


def test_the_table_beside_the_figure_has_every_exercise():
    ranking = make_ranking()
    rows = part_rows(ranking, ranking.parts[0])
    assert [r[0] for r in rows] == ["thrust", "bridge", "squat"]
    assert rows[1][1:3] == ("the comparator", "")
    assert rows[0][6] == "Bramble 2011 75 %, Moorcock 2014 25 %"
    assert len(pair_rows(ranking, ranking.parts[0])) == 3
    assert pair_rows(ranking, make_part(("a", "b"), "a")) == []


def test_facts_are_told_and_what_cannot_be_judged_too():
    assert tell_facts(make_part()) == (
        "2 studies (Bramble 2011, Moorcock 2014), 40 people. Between studies: tau² 0.01 (REML), I² 30 %, "
        "Q 3.20 on 2 df (p 0.2)."
    )
    assert tell_facts(make_part(q_p=1e-30)).endswith("(p < 0.0001).")
    assert tell_facts(make_part(studies=tuple(f"s{i}" for i in range(9)))).startswith("9 studies, 40 people.")
    assert tell_facts(make_part(q_df=0)).endswith("How far studies differ among themselves cannot be judged.")


def test_a_changed_order_is_told():
    assert tell_orders(make_ranking())[-1].startswith("What is clear, or the order, depends")
    same = make_ranking(orders=(OrderRow("low", (0.3,), (("a", "b"),), ()),))
    assert "no change" in tell_orders(same)[0]
    assert tell_orders(make_ranking(orders=())) == ()


@pytest.mark.parametrize("make", [ranking_html, ranking_markdown, ranking_text])
def test_every_document_says_all_there_is_to_say(make):
    shown = " ".join(make(make_ranking()).replace("\u00a0", " ").replace("\\", "").split())
    invented = "INVENTED" if make is ranking_text else "Invented"
    told = ("Stop if something hurts.", "Not told apart: all.", "Loads differ", "r = 0.5 was assumed")
    more = ("can no longer be told apart", "Details are lumped.", "Thistle 2015", "the report is retracted")
    for part in (invented, *told, *more):
        assert part in shown
    assert make(make_ranking()) == make(make_ranking())


@pytest.mark.parametrize("make", [ranking_html, ranking_markdown])
def test_pages_show_notices_scales_and_sources(make):
    shown = make(make_ranking())
    assert "corrected" in shown
    assert "%MVIC" in shown
    assert "10RM" in shown
    assert "https://doi.org/10.5555/sy.b" in shown


def test_nothing_to_rank_is_a_page_too():
    empty = make_ranking([], studies=(), orders=(), notes=("No study measured it.",))
    assert "Nothing to rank." in texts(ranking_svg(empty))
    for make in (ranking_html, ranking_markdown, ranking_text):
        assert "No study measured it." in make(empty)


letters = st.characters(codec="utf-8", exclude_categories=("Cs",))
names = st.lists(st.text(letters, min_size=1, max_size=60), min_size=2, max_size=14, unique=True)


@given(names=names, width=st.integers(20, 140))
def test_any_name_leaves_figure_and_text_whole(names, width):
    part = make_part(tuple(names), names[0])
    ranking = make_ranking([part])
    ET.fromstring(ranking_svg(ranking, standalone=True))
    text = ranking_figure_text(ranking, part, width, ascii_only=True)
    text.encode("ascii")
    assert "<script" not in ranking_html(ranking).lower()


@pytest.mark.parametrize("count", [2, 5, 12, 40, 90])
def test_the_text_keeps_to_its_width(count):
    part = make_part(
        tuple(f"exercise with quite a long name {i}" for i in range(count)),
        "exercise with quite a long name 1",
    )
    shown = ranking_figure_text(make_ranking([part]), part, 80)
    for line in shown.splitlines():
        assert len(line) <= 84  # the last tick of the scale may reach a few columns beyond
    assert ("…" in shown) == (count > 5)  # then the figures leave less room for names
    ranks = shown.splitlines()[-1].split()
    assert (ranks[0], ranks[-1]) == ("1", str(count))


@pytest.mark.parametrize("count", [2, 3, 9, 10, 40, 41])
def test_the_ladder_of_the_figure_is_marked_from_first_to_last(count):
    part = make_part(tuple(f"e{i}" for i in range(count)), "e1")
    ranks = [int(t) for t in texts(ranking_svg(make_ranking([part]))) if t.isdecimal()]
    assert (ranks[0], ranks[-1]) == (1, count)
    assert len(ranks) <= 11
    assert ranks == sorted(set(ranks))


def test_markup_in_names_stays_text():
    part = make_part(("<b>x</b>", "b & c", "d"), "d")
    assert "<b>x</b>" in texts(ranking_svg(make_ranking([part])))
    assert "<b>x</b>" not in ranking_html(make_ranking([part]))


def test_a_rank_that_is_certain_is_one_number():
    assert tell_rank(RankedExercise("a", 0.1, 0.0, 0.2, 1, 1.0, 1.0, 1, 1)) == "1"
    assert math.isclose(make_part().exercises[0].mean_rank, 1.0)
