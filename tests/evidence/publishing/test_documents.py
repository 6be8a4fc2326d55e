"""Briefs and programmes: complete, escaped, self-contained, the same each time."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from evidence.appraisal.levels import ORDER, Level
from evidence.publishing.brief_pages import brief_html, brief_markdown
from evidence.publishing.briefs import PrintedFigure, StudyEntry, contradicting
from evidence.publishing.mark import mark_svg, mark_text
from evidence.publishing.markdown import escape, link
from evidence.publishing.programme_pages import NOTHING, programme_html, programme_markdown
from evidence.publishing.programmes import Pick, Prescription, Session, count_profile
from evidence.publishing.sources import Reference
from evidence.publishing.templating import safe_url
from evidence.vocabulary.terms import Direction

HOSTILE = "<img src=x onerror=alert(1)> [a](javascript:alert(1)) | `x` <!-- {{ 7*7 }}"
VOID = {"meta", "col", "br", "hr", "img", "link", "input"}


class Balance(HTMLParser):
    """Counts tags that are left open, and collects what a page would fetch or run."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.loose: list[str] = []
        self.fetched: list[str] = []
        self.tags: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        self.fetched += [v for k, v in attrs if k in ("src", "srcset", "data", "action", "poster")]
        self.fetched += [k for k, _ in attrs if k.startswith("on")]

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.loose.append(tag)


def plain(page):
    return page.replace("\u00a0", " ")


def test_a_brief_shows_verdict_and_confidence_as_two_things(brief):
    page = brief_html(brief())
    assert "Verdict: what the evidence says" in page
    assert "Confidence: how far that can be trusted" in page
    assert "No clear difference" in page
    text = brief_markdown(brief())
    assert "Verdict: what the evidence says\n\nNo clear difference" in text
    assert "Confidence: how far that can be trusted\n\nVery low" in text


def test_a_brief_gives_each_domain_its_reason_and_the_persons_choice(brief):
    for page in (brief_html(brief()), brief_markdown(brief())):
        for name in ("Risk of bias", "Inconsistency", "Indirectness", "Imprecision", "Publication bias"):
            assert name in page
        assert "A. Reader (2026-11-20) chose −1 over the proposed 0" in page
        assert "not testable with 4 studies" in page.lower()


def test_contradicting_evidence_is_always_there(brief):
    whole = brief()
    assert [s.label for s in contradicting(whole)] == ["Moorcock 2023"]
    for page in (plain(brief_html(whole)), brief_markdown(whole)):
        assert "What speaks against it" in page
        assert (
            "1 of 5 studies with a figure speaks against it: Moorcock 2023: −9.3 % (−22 % to 6.1 %)" in page
        )
        assert "Bramblewick 2018" in page
    agreeing = replace(whole, studies=whole.studies[:2])
    assert "None of 2 estimates points against the claim" in brief_html(agreeing)
    assert "No study with a comparable figure" in brief_html(replace(whole, studies=()))


def test_a_sameness_claim_is_contradicted_by_intervals_that_leave_out_zero(brief):
    same = replace(brief(), claimed=Direction.SAME)
    assert [s.label.split()[0] for s in contradicting(same)] == ["Thistledown", "Pellworm,"]


def test_figures_stand_as_printed_with_their_place(brief):
    for page in (plain(brief_html(brief())), brief_markdown(brief())):
        assert "78 ± 18 %MVIC" in page
        assert "Table 2" in page
        assert "not checked by a second reader" in page


def test_the_grid_is_shown_and_a_change_of_verdict_is_said(brief):
    for page in (brief_html(brief()), brief_markdown(brief())):
        assert "default (0.7)" in page
        assert "The verdict changes with the value assumed" in page


def test_invented_data_says_so_on_every_document(brief, programme):
    for page in (
        brief_html(brief()),
        brief_markdown(brief()),
        programme_html(programme()),
        programme_markdown(programme()),
    ):
        assert "Invented data" in page
    assert "Invented data" not in brief_html(brief(invented=False))


def test_each_document_names_its_catalogue_state_and_date_and_gives_no_advice(brief, programme):
    for page in (brief_html(brief()), programme_html(programme()), brief_markdown(brief())):
        assert "catalogue state 5f2c9a1e0b77" in page
        assert "2026-11-25" in page
        assert "no medical advice" in page


def test_a_page_is_whole_and_fetches_and_runs_nothing(brief, programme):
    for page in (brief_html(brief()), programme_html(programme())):
        read = Balance(page)
        assert not read.loose
        assert not read.open
        assert not read.fetched
        assert "script" not in read.tags
        assert "default-src 'none'" in page
        assert read.tags.count("h1") == 1


def test_what_people_typed_starts_nothing(brief, programme):
    study = StudyEntry(
        HOSTILE, 3, HOSTILE, HOSTILE, (PrintedFigure(HOSTILE, HOSTILE, HOSTILE),), 0.1, 0.0, 0.2
    )
    hostile = brief(
        statement=HOSTILE,
        studies=(study,),
        cautions=(HOSTILE,),
        changes=(HOSTILE,),
        references=(Reference("x", HOSTILE, "javascript:alert(1)", HOSTILE),),
    )
    pick = Pick(HOSTILE, Prescription(HOSTILE, HOSTILE), HOSTILE, HOSTILE, (HOSTILE,), problems=(HOSTILE,))
    plan = programme(title=HOSTILE, sessions=(Session(HOSTILE, (pick,)),), audience_gaps=(HOSTILE,))
    for page in (brief_html(hostile), programme_html(plan)):
        read = Balance(page)
        assert "img" not in read.tags
        assert not read.fetched
        assert 'href="javascript' not in page
        assert "{{ 7*7 }}" in page
    for text in (brief_markdown(hostile), programme_markdown(plan)):
        outside_code = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
        assert "<img" not in outside_code.replace("\\<img", "")
        assert "](javascript" not in outside_code.replace("\\](javascript", "")


@pytest.mark.parametrize(
    "url", ["javascript:alert(1)", "data:text/html,x", "file:///etc/passwd", "http://a b", "//x"]
)
def test_only_ordinary_web_addresses_become_links(url):
    assert safe_url(url) == ""
    assert "](" not in link("x", url)


def test_markdown_reads_typed_marks_as_text():
    assert escape("a*b_c|d") == "a\\*b\\_c\\|d"
    assert escape("1. first") == "1\\. first"
    assert escape("- x") == "\\- x"
    assert escape("a\nb") == "a b"


def test_a_document_is_the_same_each_time(brief, programme):
    assert brief_html(brief()) == brief_html(brief())
    assert programme_markdown(programme()) == programme_markdown(programme())


def test_an_empty_brief_and_an_empty_programme_are_still_documents(brief, programme):
    bare = brief(studies=(), references=(), assumptions=(), changes=(), review_due="", left_out=())
    assert "No study in the catalogue bears on this claim." in brief_html(bare)
    assert "No source is listed." in brief_markdown(bare)
    empty = programme(sessions=(), weekly_sets=(), references=(), audience_gaps=())
    assert "The programme has no picks." in programme_html(empty)
    assert "No difference was found" in programme_markdown(empty)


def test_a_pick_that_rests_on_nothing_says_so(programme):
    assert programme_html(programme()).count(NOTHING) == 2
    assert programme_markdown(programme()).count(NOTHING) == 2


def test_the_profile_does_not_take_a_claim_against_a_pick_for_one_in_its_favour(programme):
    assert count_profile(programme()) == (
        "Of 5 picks: 1 with a claim in favour at moderate confidence, 1 with only open answers, "
        "1 with claims against and none in favour and 2 with nothing in the catalogue behind."
    )


def test_weekly_sets_are_counted_three_ways_and_the_counting_is_named(programme):
    for page in (programme_html(programme()), programme_markdown(programme())):
        assert "Direct: sets of exercises" in page
        assert "half a set" in page
        assert "8.5" in page


def test_a_pick_shows_verdict_confidence_and_what_speaks_against_it(programme):
    for page in (plain(programme_html(programme())), programme_markdown(programme())):
        assert "no clear difference" in page
        assert "low (between very low and low)" in page
        assert "Speaks against this pick." in page
        assert "Thistledown 2019" in page
        assert "studied in untrained women" in page


@pytest.mark.parametrize("level", ORDER)
def test_the_mark_says_its_level_in_words_first(level):
    assert mark_text(level).startswith(str(level))
    assert f"Confidence {level}" in mark_svg(level)
    assert mark_text(level, ascii_only=True).isascii()


def test_the_marks_weight_moves_and_a_range_is_told():
    weights = [mark_text(level).index("▼") - len(str(level)) for level in ORDER]
    assert weights == sorted(weights)
    assert "between very low and moderate" in mark_text(Level.LOW, Level.VERY_LOW, Level.MODERATE)
    assert "═" in mark_text(Level.LOW, Level.VERY_LOW, Level.MODERATE)
