"""A trend drawn: points and lines where the figures are, nothing beyond the range studied, text that is text."""

import math
import xml.etree.ElementTree as ET  # our own output is parsed here, nothing foreign
from itertools import pairwise

import pytest

from evidence.appraisal.metrics import find_metric
from evidence.publishing.brief_pages import brief_document, brief_sheet
from evidence.publishing.document import Figure, Table
from evidence.publishing.formats import Wanted, write_as_text, write_document
from evidence.publishing.panels import Panel
from evidence.publishing.trend_figure import (
    TrendPlot,
    TrendStudy,
    caption_of,
    describe_trend,
    placed,
    tell_line,
    trend_svg,
)
from evidence.publishing.trend_text import LETTERS, UNLETTERED, letter_studies, trend_text

RATIO = find_metric("log_ratio_of_means")
SVG = "{http://www.w3.org/2000/svg}"
TENTH = math.log(1.1) / 10  # a tenth more for each 10 of the detail


def make_plot(*studies: TrendStudy, **changes) -> TrendPlot:
    studies = studies or (
        TrendStudy("Bramble 2011", 20, (30, 60, 90), (-0.2, 0.1, 0.3), 0.5 / 60, -0.2),
        TrendStudy("Moorcock 2014", 14, (60, 100), (0.0, 0.4), 0.01, 0.0),
    )
    values = {
        "title": "Levels", "metric": RATIO, "detail": "knee angle (degrees)", "studies": studies,
        "low": 30, "high": 100, "step": 10, "told_step": "over 10 degrees of knee angle",
        "slope": TENTH, "slope_low": TENTH / 2, "slope_high": TENTH * 2,
    } | changes  # fmt: skip
    return TrendPlot(**values)


def marks(svg: str, kind: str) -> list[ET.Element]:
    return [node for group in ET.fromstring(svg).iter(f"{SVG}g") for node in group.iter(f"{SVG}{kind}")]


def texts(svg: str) -> list[str]:
    return [node.text or "" for node in ET.fromstring(svg).iter(f"{SVG}text")]


def test_each_study_is_set_where_its_line_meets_the_line_over_all() -> None:
    plot = make_plot()
    first, second = plot.studies
    assert placed(plot, first) == pytest.approx(
        -0.2
    )  # begins at the lowest level of all: its line starts at nought
    assert 0.0 - placed(plot, second) == pytest.approx(
        TENTH * 30
    )  # at 60, the line over all is 30 further up


def test_points_of_a_straight_study_lie_on_its_line() -> None:
    levels = (30.0, 50.0, 70.0, 90.0)
    straight = TrendStudy("A 1", 9, levels, tuple(TENTH * x for x in levels), TENTH, TENTH * 30)
    svg = trend_svg(make_plot(straight, low=30, high=90))
    squares = [(float(r.get("x")) + 3.8, float(r.get("y")) + 3.8) for r in marks(svg, "rect")][:4]
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(squares)]
    assert max(slopes) - min(slopes) < 0.01  # rounded to a tenth of a unit
    assert slopes[0] < 0  # up the page: more
    assert [x for x, _ in squares] == sorted(x for x, _ in squares)


def test_nothing_is_drawn_beyond_the_range_studied() -> None:
    svg = trend_svg(make_plot())
    dotted = [n.get("d") for n in ET.fromstring(svg).iter(f"{SVG}path") if n.get("stroke-dasharray") == "1 4"]
    left, right = (float(d[1:].split(" ")[0]) for d in dotted)
    thick = next(n.get("d") for n in ET.fromstring(svg).iter(f"{SVG}path") if n.get("stroke-width") == "3")
    across = [float(pair.split(" ")[0]) for pair in thick[1:].split("L")]
    assert (min(across), max(across)) == (left, right)


def test_the_description_holds_every_figure_that_is_drawn() -> None:
    told = describe_trend(make_plot())
    assert "Bramble 2011, 20 people, against its lowest level: 30: 0.0 %; 60: +35 %; 90: +65 %." in told
    assert "+10 % [4.9 % to 21 %] over 10 degrees of knee angle." in told
    assert "from 30 to 100, and nothing beyond" in told
    assert ET.fromstring(trend_svg(make_plot())).find(f"{SVG}desc").text == told.replace(" %", "\u00a0%")


def test_the_levels_that_were_studied_stand_under_the_drawing() -> None:
    assert {"30", "60", "90", "100"} <= set(texts(trend_svg(make_plot())))
    many = tuple(float(x) for x in range(30, 101))
    crowded = TrendStudy("A 1", 9, many, tuple(0.01 * x for x in many), 0.01, 0.3)
    assert "40" in texts(trend_svg(make_plot(crowded)))


def test_without_a_line_the_points_stand_alone_and_the_caption_says_no_more() -> None:
    bare = make_plot(TrendStudy("A 1", 9, (30, 100), (0.0, 0.2)), slope=None, slope_low=None, slope_high=None)
    assert tell_line(bare) is None
    assert "line" not in caption_of(bare)
    assert not [n for n in ET.fromstring(trend_svg(bare)).iter(f"{SVG}path") if n.get("stroke-width") == "3"]


def test_studies_are_told_apart_by_shape_and_never_by_colour() -> None:
    svg = trend_svg(make_plot())
    assert marks(svg, "rect")
    assert marks(svg, "circle")
    assert "#" not in svg.replace("&#", "")


def test_names_that_try_to_be_markup_are_text() -> None:
    name = '</text><script>alert(1)</script> #strong[x] "'
    svg = trend_svg(make_plot(TrendStudy(name, 9, (30, 100), (0.0, 0.2), 0.01, 0.0), detail="<b>angle</b>"))
    assert not list(ET.fromstring(svg).iter(f"{SVG}script"))
    assert "<b>angle</b>" in texts(svg)


def test_a_very_wide_interval_does_not_press_the_points_flat() -> None:
    svg = trend_svg(make_plot(slope_low=-5.0, slope_high=5.0))
    heights = [float(r.get("y")) for r in marks(svg, "rect")][:3]
    assert max(heights) - min(heights) > 20


def test_a_brief_holds_the_drawing_with_its_table_and_one_page_the_drawing_alone(brief) -> None:
    panel = Panel("Levels", "Each level.", ("Study", "Level"), (("Bramble 2011", "30"),), trend=make_plot())
    whole = brief(panels=(panel,))
    for made, table in ((brief_document(whole), True), (brief_sheet(whole), False)):
        figures = [b for b in made.blocks if isinstance(b, Figure)]
        assert "Bramble 2011, 20 people" in figures[0].alt
        assert any(isinstance(b, Table) and b.name == "Levels" for b in made.blocks) is table
        assert len(figures) == (2 if table else 1)  # the forest plot has its table on a later page
        for kind in ("html", "pdf", "docx"):
            assert write_document(made, Wanted(kind))
        assert "<title" in write_as_text(made, "html") and "a: Bramble 2011, 20 people" in write_as_text(
            made, "md"
        )


def test_in_characters_each_level_has_a_row_with_its_studies_and_the_line() -> None:
    text = trend_text(make_plot(), 60)
    rows = {line.split()[0]: line for line in text.splitlines()[1:]}
    assert "a" in rows["30"] and "b" not in rows["30"]
    assert rows["90"].index("─") < rows["90"].index("│")
    assert "b: Moorcock 2014, 14 people" in text and "+10 % [4.9 % to 21 %] over 10 degrees" in text
    # The line over all lies a tenth further at each 10 of the detail: further right the higher the level.
    assert rows["90"].index("│") < rows["100"].index("│")
    assert max(map(len, text.splitlines()[:-1])) <= 60


def test_studies_on_one_spot_are_counted_there_and_named_below() -> None:
    levels, values = (30.0, 60.0), (0.0, 0.2)
    alike = [TrendStudy(f"Study {name}", 9, levels, values, 0.2 / 30, 0.0) for name in "ABC"]
    text = trend_text(make_plot(*alike, TrendStudy("Apart", 9, levels, (0.0, 0.6), 0.02, 0.0)))
    rows = {line.split()[0]: line for line in text.splitlines()}
    assert "4" in rows["30"] and "3" in rows["60"] and "d" in rows["60"]
    assert "A figure: so many studies on one spot (at 30: a b c d; at 60: a b c)" in text
    assert "one spot" not in trend_text(make_plot(alike[0]))


@pytest.mark.parametrize("number", [1, 27, 60, len(LETTERS)])
def test_no_letter_stands_for_two_studies(number) -> None:
    studies = [TrendStudy(f"S {i}", 9, (30, 60), (0.0, i / 100), i / 3000, 0.0) for i in range(number)]
    text = trend_text(make_plot(*studies))
    legend = [line.partition(":")[0] for line in text.splitlines() if line.endswith(", 9 people")]
    assert len(legend) == len(set(legend)) == number


def test_studies_beyond_the_last_letter_have_a_sign_that_is_none() -> None:
    assert len(set(LETTERS)) == len(LETTERS)
    assert letter_studies(len(LETTERS) + 2) == LETTERS + UNLETTERED * 2


@pytest.mark.parametrize("bounds", [(-math.inf, math.inf), (0.001, math.inf), (-math.inf, 0.02)])
@pytest.mark.parametrize("slope", [0.0, TENTH])
def test_a_bound_without_end_is_drawn_to_the_edge_and_told(slope, bounds) -> None:
    plot = make_plot(slope=slope, slope_low=bounds[0], slope_high=bounds[1])
    text = trend_text(plot)
    assert "─" in next(line for line in text.splitlines() if line.split()[0] == "100")
    if bounds[1] == math.inf:
        assert "to ∞ %]" in text
    assert "nan" not in trend_svg(plot) and "inf" not in trend_svg(plot)


def test_the_same_plot_gives_the_same_bytes() -> None:
    assert trend_svg(make_plot()) == trend_svg(make_plot())
