"""Forest plots: valid, readable without colour, and honest about what is cut off or missing."""

import math
import xml.etree.ElementTree as ET  # our own output is parsed here, nothing foreign

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.appraisal.metrics import find_metric
from evidence.publishing.axis import choose_axis
from evidence.publishing.figures import ForestPlot, ForestRow, ForestSummary, forest_svg
from evidence.publishing.terminal import forest_text

SMD = find_metric("smd")
RATIO = find_metric("log_ratio_of_means")
SVG = "{http://www.w3.org/2000/svg}"


def make_plot(rows=None, summary=True, metric=SMD, **changes):
    rows = rows or (
        ForestRow("Bramble 2011", 20, 0.4, 0.1, 0.7, 0.6),
        ForestRow("Moorcock 2014", 14, -0.1, -0.6, 0.4, 0.4),
    )
    pooled = ForestSummary("Pooled", 0.25, -0.05, 0.55, 34, -0.4, 0.9) if summary else None
    values = {"less": "more with B", "more": "more with A"} | changes
    return ForestPlot("A against B", metric, tuple(rows), pooled, **values)


def texts(svg):
    return [node.text for node in ET.fromstring(svg).iter(f"{SVG}text")]


def test_the_svg_has_real_text_a_title_and_a_description():
    root = ET.fromstring(forest_svg(make_plot()))
    assert root.find(f"{SVG}title").text == "A against B"
    description = root.find(f"{SVG}desc").text
    assert "Moorcock 2014: −0.10 [−0.60 to 0.40]" in description
    assert "Prediction interval" in description
    assert "Bramble 2011" in texts(forest_svg(make_plot()))


def test_a_log_ratio_is_drawn_on_the_log_and_labelled_in_percent():
    rows = (ForestRow("A 1", 9, math.log(1.3), math.log(1.1), math.log(1.5)),)
    shown = texts(forest_svg(make_plot(rows, summary=False, metric=RATIO)))
    assert "0\u00a0%" in shown
    assert any(t and t.startswith("+") and t.endswith("\u00a0%") for t in shown)
    axis = choose_axis(RATIO, [(math.log(0.5), 0.0, math.log(2.0))])
    assert axis.place(math.log(2.0)) - axis.place(0.0) == pytest.approx(
        axis.place(0.0) - axis.place(math.log(0.5))
    )


def test_an_interval_off_the_scale_ends_in_an_arrow_and_keeps_its_figures():
    rows = (*make_plot().rows, ForestRow("Wild 2001", 4, 0.5, -40.0, 41.0, 0.01))
    svg = forest_svg(make_plot(rows))
    assert "−40.0 to 41.0" in svg
    text = forest_text(make_plot(rows))
    assert "◄" in text
    assert "►" in text
    narrow = choose_axis(SMD, [(0.1, 0.4, 0.7), (-0.6, -0.1, 0.4), (-40.0, 0.5, 41.0)])
    assert narrow.high < 10


def test_a_study_far_from_the_rest_does_not_squeeze_them_flat():
    axis = choose_axis(SMD, [(0.1, 0.4, 0.7), (-0.6, -0.1, 0.4), (0.0, 0.3, 0.6), (8.0, 9.0, 10.0)])
    assert axis.high < 4
    rows = (
        *make_plot().rows,
        ForestRow("Bracken 2009", 11, 0.3, 0.0, 0.6),
        ForestRow("Outlier 1990", 5, 9.0, 8.0, 10.0),
    )
    svg = forest_svg(make_plot(rows))
    assert "+9.00 [8.00 to 10.0]" in svg
    assert "►" in forest_text(make_plot(rows))


def test_a_row_without_an_interval_is_an_open_mark_and_says_so():
    rows = (*make_plot().rows, ForestRow("Abstract 1999", 9, 0.3))
    svg = forest_svg(make_plot(rows))
    assert "no interval printed" in svg
    assert len(list(ET.fromstring(svg).iter(f"{SVG}circle"))) == 1
    assert "○" in forest_text(make_plot(rows))


def test_a_row_without_any_figure_is_still_named():
    rows = (*make_plot().rows, ForestRow("Silent 1999", 9, None))
    assert "no figure to compare" in forest_svg(make_plot(rows))
    assert "Silent 1999" in forest_text(make_plot(rows))


def test_one_study_is_drawn_with_and_without_a_summary():
    one = (ForestRow("Only 2004", 12, 0.3, 0.1, 0.5, 1.0),)
    for summary in (True, False):
        ET.fromstring(forest_svg(make_plot(one, summary=summary)))


def test_nothing_at_all_is_still_a_figure():
    plot = ForestPlot("Empty", SMD, ())
    ET.fromstring(forest_svg(plot))
    assert forest_text(plot).startswith("Empty")


def test_names_are_escaped_and_shortened_and_kept_whole_in_the_row_title():
    name = '<script>alert("x")</script> & Søns, ' + "Öztürk " * 12 + "2020"
    svg = forest_svg(make_plot((ForestRow(name, 9, 0.3, 0.1, 0.5),)))
    assert "<script>" not in svg
    titles = [node.text for node in ET.fromstring(svg).iter(f"{SVG}title")]
    assert any("2020" in title for title in titles[1:])


def test_right_to_left_names_and_control_characters_do_not_break_the_figure():
    svg = forest_svg(make_plot((ForestRow("כהן 2020 \u202e\x00\x1b", 9, 0.3, 0.1, 0.5),)))
    assert "כהן 2020" in svg
    ET.fromstring(svg)


def test_what_the_sides_mean_stays_inside_however_long_and_never_lies_on_the_other():
    long = "more with the deficit rear-foot-elevated split squat with two dumbbells"
    for rows in ((ForestRow("A 1", 9, 2.0, 1.0, 3.0),), (ForestRow("A 1", 9, -2.0, -3.0, -1.0),)):
        root = ET.fromstring(forest_svg(make_plot(rows, summary=False, less=long, more=long)))
        sides = [node for node in root.iter(f"{SVG}text") if "more with" in (node.text or "")]
        left, right = (float(node.get("x")) for node in sides)
        room = 6.0 * len(long)  # a letter of this size is about 6 units wide; from a rendering
        assert left - room > 0
        assert right + room < float(root.get("viewBox").split()[2])
        assert sides[0].get("y") != sides[1].get("y")
    (less, more) = (
        n for n in ET.fromstring(forest_svg(make_plot())).iter(f"{SVG}text") if "more with" in n.text
    )
    assert less.get("y") == more.get("y")


def test_no_colour_is_named_outside_a_standalone_file():
    assert "#" not in forest_svg(make_plot()).replace("&#", "")
    assert "prefers-color-scheme" in forest_svg(make_plot(), standalone=True)


def test_the_text_form_keeps_its_width_and_can_be_ascii():
    plot = make_plot((ForestRow("Ünlü 2020", 9, 0.3, -0.1, 0.5, 0.5), *make_plot().rows), margin=0.2)
    for width in (60, 80, 120):
        for ascii_only in (False, True):
            lines = forest_text(plot, width, ascii_only=ascii_only).splitlines()
            assert max(map(len, lines)) <= width
    assert forest_text(plot, 80, ascii_only=True).isascii()


def test_the_same_plot_gives_the_same_bytes():
    assert forest_svg(make_plot()) == forest_svg(make_plot())


@given(
    st.lists(
        st.tuples(st.floats(-50, 50), st.floats(0, 60), st.floats(0, 60), st.text(max_size=40)),
        min_size=1,
        max_size=8,
    )
)
def test_any_rows_give_a_figure_that_can_be_read(rows):
    made = tuple(ForestRow(label, 5, e, e - a, e + b, 0.1) for e, a, b, label in rows)
    plot = make_plot(made, summary=False)
    root = ET.fromstring(forest_svg(plot))
    width = float(root.get("viewBox").split()[2])
    for node in root.iter(f"{SVG}rect"):
        assert -10 <= float(node.get("x")) <= width
    assert all(len(line) <= 80 for line in forest_text(plot).splitlines())


@given(st.floats(-3, 3), st.floats(0.01, 3))
def test_zero_is_always_on_the_axis_and_ticks_lie_inside(estimate, half):
    for metric in (
        SMD,
        RATIO,
        find_metric("log_risk_ratio"),
        find_metric("fisher_z"),
        find_metric("risk_difference"),
    ):
        axis = choose_axis(metric, [(estimate - half, estimate, estimate + half)])
        assert axis.holds(0.0)
        assert all(axis.holds(tick.value) for tick in axis.ticks)
        assert any(abs(tick.value) < 1e-12 for tick in axis.ticks)
