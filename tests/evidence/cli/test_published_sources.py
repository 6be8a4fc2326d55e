"""A source that was cited is retracted: everything published that names it is told, and a note says what to correct."""

import json
import shutil
from pathlib import Path

import pytest

ARTICLE = """# [Invented] Two machines

In one trial the seated machine was ahead [@barbell2020; @chalk2021, p. 4], and again later [@barbell2020].
"""
CAPTIONS = "WEBVTT\n\n00:12.000 --> 00:18.000\nIn one trial it grew more [@barbell2020].\n"
NOTICE = (
    "OriginalPaperDOI,OriginalPaperPubMedID,RetractionNature,RetractionDate,RetractionDOI,Reason\n"
    "10.5555/steelyard.demo.02,0,Retraction,3/1/2026 0:00,10.5555/steelyard.demo.02r,+Invented reason;\n"
)


@pytest.fixture(scope="module")
def demonstration(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration, made once for all tests of this file."""
    from evidence.workflows.demonstrating import demonstrate

    return demonstrate(tmp_path_factory.mktemp("sources") / "demo", lambda _: None).catalogue


@pytest.fixture
def published(steelyard, demonstration: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The command on a copy of the demonstration, with an article and a source list published from it."""
    shutil.copy(demonstration, tmp_path / "own.sqlite")
    monkeypatch.setenv("STEELYARD_CATALOGUE", str(tmp_path / "own.sqlite"))
    (tmp_path / "piece.md").write_text(ARTICLE, "utf-8")
    (tmp_path / "video.vtt").write_text(CAPTIONS, "utf-8")
    (tmp_path / "notices.csv").write_text(NOTICE, "utf-8")
    assert steelyard("publish", "article", "piece.md", "--to", "piece.html").status == 0
    assert steelyard("publish", "sources", "video.vtt", "--to", "video.txt").status == 0
    return steelyard


def named(said: str) -> list[dict[str, object]]:
    """What was published and names the source itself, not only a claim that rests on it."""
    return [use for use in json.loads(said) if use["about"] == "reference"]


def test_a_source_is_kept_once_for_each_thing_that_cites_it(published):
    told = named(published("uses", "barbell2020", "--json").text)
    assert [(use["kind"], use["name"], use["holds"]) for use in told] == [
        ("article", "piece.html", True),
        ("source list", "video.txt", True),
    ]


def test_while_nothing_is_known_of_a_source_nothing_has_to_be_corrected(published):
    assert "piece.html" not in published("changes").text


def test_the_notice_itself_names_what_was_published(published):
    done = published("refs", "notices", "apply", "notices.csv")
    assert done.status == 1
    assert "Went out and rests on it: article piece.html" in done.text
    assert "Went out and rests on it: source list video.txt" in done.text


def test_after_a_retraction_uses_and_changes_name_the_article_and_the_source(published):
    published("refs", "notices", "apply", "notices.csv")
    assert [use["holds"] for use in named(published("uses", "barbell2020", "--json").text)] == [False, False]
    text = published("changes").text
    assert "article piece.html, barbell2020: the source is now marked: retracted" in text
    assert "source list video.txt, barbell2020: the source is now marked: retracted" in text
    assert "chalk2021" not in text


def test_a_note_says_what_to_correct_and_that_the_data_are_invented(published, tmp_path):
    published("refs", "notices", "apply", "notices.csv")
    assert published("changes", "--notes", "--to", "notes").status == 0
    note = (tmp_path / "notes" / "correction-article-piece.html.md").read_text("utf-8")
    assert note.startswith("# Correction: article piece.html")
    assert "INVENTED" in note
    assert "- It cited: [Invented] Twelve weeks of seated" in note.replace("\\", "")
    assert "- Now: The source is marked: retracted." in note
    assert "- To do: Take it out, or say beside it that it is retracted" in note


def test_an_article_written_again_without_the_source_has_nothing_left_to_correct(published, tmp_path):
    published("refs", "notices", "apply", "notices.csv")
    (tmp_path / "piece.md").write_text(ARTICLE.replace("@barbell2020", "@chalk2021"), "utf-8")
    assert published("publish", "article", "piece.md", "--to", "piece.html", "--replace").status == 0
    assert "article piece.html" not in published("changes").text
    assert "article piece.html, barbell2020: replaced by a later one" in published("uses", "barbell2020").text


def test_a_notice_taken_back_leaves_the_article_standing(published):
    published("refs", "notices", "apply", "notices.csv")
    assert published("undo").status == 0
    assert "article piece.html" not in published("changes").text


def test_a_source_that_is_a_word_of_its_sentence_stands_there_by_name(published, tmp_path):
    (tmp_path / "note.md").write_text(
        "As 10.5555/steelyard.demo.02 showed, machines may differ. @barbell2020 found so too.\n\n"
        "It may grow more [@barbell2020]. It may, see https://doi.org/10.5555/steelyard.demo.02.\n",
        "utf-8",
    )
    said = published("publish", "sources", "note.md").text
    assert "As Barbell & Plate 2020 showed, machines may differ." in said
    assert "Barbell & Plate 2020 found so too." in said
    assert "It may grow more." in said
    assert "It may, see Barbell & Plate 2020." in said
