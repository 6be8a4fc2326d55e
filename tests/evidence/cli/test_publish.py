"""What goes out, through the real command, on the invented demonstration."""

import json
import re
import shutil
from io import BytesIO
from pathlib import Path

import pytest

from evidence.publishing.formats import FORMATS

ARTICLE = """---
title: "[Invented] Two machines, one muscle"
author: Harbour Street Strength Club
---

# [Invented] Two machines, one muscle

Most gyms have **two** leg curls. [Over some weeks it is unclear which builds more.]{claim=seated-curl-growth}
In one trial the seated machine was ahead [@barbell2020; @chalk2021, p. 4], in another it was not [@dumbbell2022].

## What a single session shows

- [Activation is probably slightly higher sitting down.]{claim=seated-curl-activation}
- That is *not* growth [@nosuchkey1999].

| Machine | Place |
|---|---|
| Lying | `#strong[by]` the <b>door</b> |

<script>alert(1)</script> See [a page](https://example.org/x).
"""
CAPTIONS = """WEBVTT

00:12.000 --> 00:18.000
[Activation is probably slightly higher sitting down.]{claim=seated-curl-activation}

01:05.000 --> 01:11.000
Growth is unclear so far [@chalk2021; @dumbbell2022].

1:02:03.000 --> 1:02:09.000
And once more [@chalk2021].
"""


@pytest.fixture(scope="module")
def demonstration(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration, made once for all tests of this file."""
    from evidence.workflows.demonstrating import demonstrate

    folder = tmp_path_factory.mktemp("shown") / "demo"
    return demonstrate(folder, lambda _: None).catalogue


@pytest.fixture
def shown(steelyard, demonstration: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The command on a copy of the demonstration's catalogue."""
    own = tmp_path / "own.sqlite"
    shutil.copy(demonstration, own)
    monkeypatch.setenv("STEELYARD_CATALOGUE", str(own))
    (tmp_path / "article.md").write_text(ARTICLE, "utf-8")
    (tmp_path / "video.vtt").write_text(CAPTIONS, "utf-8")
    return steelyard


def text_of(path: Path) -> str:
    """The words of a file that went out, on one line."""
    if path.suffix == ".pdf":
        from pypdf import PdfReader

        text = "\n".join(page.extract_text() for page in PdfReader(path).pages)
    elif path.suffix == ".xlsx":
        from openpyxl import load_workbook

        cells = (c for sheet in load_workbook(path) for row in sheet.iter_rows(values_only=True) for c in row)
        text = "\n".join(str(c) for c in cells if c is not None)
    elif path.suffix == ".docx":
        from docx import Document

        text = "\n".join(
            p.text for p in Document(str(path)).element.body.iter() if p.tag.endswith("}t") and p.text
        )
    else:
        text = re.sub(r"<[^>]+>", "", path.read_text("utf-8")).replace("\\", "")
    return " ".join(text.replace("\u2060", "").split())


def test_an_article_has_citations_set_boxes_the_other_view_and_its_sources(shown):
    done = shown("publish", "article", "article.md", "--style", "vancouver", "--format", "md")
    assert done.status == 0
    text = done.text
    assert "the seated machine was ahead (1,2), in another it was not (3)." in text
    assert text.count("> The evidence on") == 2
    assert "The other view: 1 of 3 studies with a figure speaks against it: Dumbbell & Sleeve 2022" in text
    assert re.search(r"^1\. Barbell B, Plate P\. .*demo\.02", text, re.MULTILINE)
    assert "Studies behind the evidence boxes" in text
    assert "Checked against the catalogue as of 20" in text
    assert "catalogue state" in text
    assert "Invented data." in text


def test_each_box_stands_behind_the_block_that_makes_the_claim(shown):
    text = shown("publish", "article", "article.md", "--format", "md").text
    growth, activation = text.index("grows the hamstring"), text.index("activates the hamstring")
    assert text.index("two** leg curls") < growth < text.index("What a single session") < activation
    assert activation < text.index("| Machine |")


def test_what_the_check_finds_is_told_before_the_article_is_written(shown):
    said = shown("publish", "article", "article.md", "--to", "a.html").text
    assert said.index("Before it goes out: the check finds") < said.index("Wrote a.html.")
    assert (
        "Before it goes out"
        in json.loads(shown("publish", "article", "article.md", "--json").text)["notes"][0]
    )
    assert "Before it goes out" not in shown("publish", "article", "article.md", "--to", "a.html").text


@pytest.mark.parametrize("name", ["article", "handout", "brief", "programme"])
def test_the_screen_shows_text_to_read_and_markdown_is_asked_for(shown, demonstration, name):
    text = shown(*outputs(demonstration)[name]).text
    assert "**" not in text and "|---" not in text and not re.search(r"^#+ ", text, re.MULTILINE)
    assert re.search(r"^# ", shown(*outputs(demonstration)[name], "--format", "md").text, re.MULTILINE)


def test_how_a_source_is_named_is_told_where_none_was_on_screen_and_in_a_file(shown):
    Path("none.md").write_text("# Nothing\n\nNo source here.\n", "utf-8")
    for to in ((), ("--to", "none.txt")):
        assert "A source is named by its key" in shown("publish", "sources", "none.md", *to).text


def test_a_source_that_is_not_there_is_told_and_stays_visible(shown):
    done = shown("publish", "article", "article.md")
    assert "article.md, 14:24: no source has the key nosuchkey1999" in done.text
    assert "source not in the catalogue: nosuchkey1999" in done.text


BY_DOI = """# By DOI

Growth was ahead there (see https://doi.org/10.5555/STEELYARD.DEMO.02, p. 4), as [a second trial](https://doi.org/10.5555/steelyard.demo.03)
and 10.5555/steelyard.demo.04 say.

Nothing is known of this one: <https://doi.org/10.5555/nowhere.1>.

## References

1. Barbell, Plate: a trial. doi:10.5555/steelyard.demo.02
"""


def test_a_doi_in_a_draft_is_a_citation_in_an_article_and_a_source_list(shown, tmp_path):
    (tmp_path / "doi.md").write_text(BY_DOI, "utf-8")
    text = " ".join(shown("publish", "article", "doi.md").text.split())
    assert "Growth was ahead there (see Barbell & Plate 2020, p. 4)" in text
    assert "a second trial (https://doi.org/10.5555/steelyard.demo.03) (Chalk et al. 2021)" in text
    assert "and Dumbbell and Sleeve (2022) say" in text
    assert "a trial. doi:10.5555/steelyard.demo.02" in text and text.count("Barbell B, Plate P (2020)") == 1
    assert "Nothing is known of this one: https://doi.org/10.5555/nowhere.1." in text
    assert (
        "doi.md, 6:31: no source has the DOI 10.5555/nowhere.1. To add it: steelyard refs look-up 10.5555/nowhere.1"
        in text
    )
    listed = shown("publish", "sources", "doi.md").text
    assert all(f"steelyard.demo.0{n}" in listed for n in (2, 3, 4)) and "10.5555/nowhere.1" in listed


def test_html_and_scripts_in_a_draft_are_printed_as_text(shown, tmp_path):
    assert shown("publish", "article", "article.md", "--to", "a.html").status == 0
    page = (tmp_path / "a.html").read_text("utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "#strong[by]" in page
    assert 'href="https://example.org/x"' in page


def test_author_date_styles_link_to_an_unnumbered_list(shown, tmp_path):
    assert shown("publish", "article", "article.md", "--style", "apa", "--to", "a.html").status == 0
    page = (tmp_path / "a.html").read_text("utf-8").replace("<bdi>", "").replace("</bdi>", "")
    assert '<a href="#ref-3">(Dumbbell &amp; Sleeve, 2022)</a>' in page
    assert '<li id="ref-3">Dumbbell, D.' in page
    assert page.count("steelyard.demo.04") == 2  # the address and the text of one link


@pytest.mark.parametrize(
    ("style", "running"),
    [("plain", "Barbell and Plate (2020) found"), ("vancouver", "Barbell and Plate (1) found")],
)
def test_the_names_of_a_bare_key_are_words_of_the_sentence(shown, style, running):
    """As pandoc's Markdown reads `@key found it` and `[@key]`."""
    Path("bare.md").write_text(
        "# [Invented] Curls\n\n@barbell2020 found little. So it is told [@barbell2020].\n", "utf-8"
    )
    text = shown("publish", "article", "bare.md", "--style", style).text
    assert running in text
    assert ("told (Barbell & Plate 2020)." if style == "plain" else "told (1).") in text


def test_a_source_list_says_what_was_found_not_what_the_claim_says(shown):
    text = " ".join(shown("publish", "sources", "video.vtt").text.split())
    assert "supports: It is unclear whether activation of the hamstring muscles differs between" in text
    assert "Seated leg curl activates the hamstring muscles more" not in text


def test_captions_are_no_article(shown):
    done = shown("publish", "article", "video.vtt")
    assert done.status == 2
    assert "publish sources" in done.text


def test_a_source_list_has_time_stamps_short_references_and_what_they_support(shown):
    text = shown("publish", "sources", "video.vtt").text
    assert "00:12 Anvil et al. 2019, doi.org/10.5555/steelyard.demo.01" in text
    assert "01:05, 1:02:03 Chalk et al. 2021" in text
    assert re.search(r"Checked 20\d\d-\d\d-\d\d, catalogue [0-9a-f]{16}\.", text)


@pytest.mark.parametrize("limit", [300, 340, 400, 600, 5000])
def test_a_source_list_fits_the_characters_and_says_what_was_cut(shown, tmp_path, limit):
    done = shown("publish", "sources", "video.vtt", "--limit", str(limit), "--to", "s.txt", "--json")
    text = (tmp_path / "s.txt").read_text("utf-8")
    assert len(text) <= limit
    notes = json.loads(done.text)["notes"]
    whole = len(shown("publish", "sources", "video.vtt").text)
    assert bool(notes) == (limit < whole)
    if "left out for length" in text:
        assert any(re.search(r"of 3 sources: ", note) for note in notes)


def test_a_limit_that_holds_no_source_is_refused_with_the_least_that_does(shown):
    done = shown("publish", "sources", "video.vtt", "--limit", "40")
    assert done.status == 2
    least = int(re.search(r"use --limit (\d+)", done.text)[1])
    assert shown("publish", "sources", "video.vtt", "--limit", str(least)).status == 0


def test_a_handout_has_claims_by_topic_figures_a_reading_list_and_answers(shown):
    text = shown("publish", "handout", "--region", "calves", "--format", "md").text
    assert "# Soleus and gastrocnemius" in text
    assert "| 28 |" in text
    assert "Reading list" in text
    questions, answers = text.split("## Questions")[1].split("## Answers")
    assert (
        len(re.findall(r"^\d+\. ", questions, re.MULTILINE))
        == len(re.findall(r"^\d+\. ", answers, re.MULTILINE))
        >= 5
    )
    assert "Confidence is moderate." in answers
    assert "Verdict and confidence are two things" in questions
    assert "## Questions" not in shown("publish", "handout", "--region", "calves", "--no-questions").text


def test_a_handout_names_what_it_does_not_know(shown):
    assert shown("publish", "handout", "--region", "nonsense").status == 3
    assert "no claim is about" in shown("publish", "handout", "--region", "biceps brachii").text
    assert "needs claims" in shown("publish", "handout").text
    assert shown("publish", "handout", "--claim", "no-such-claim").status == 3


@pytest.mark.parametrize("limit", [240, 280, 350, 450, 600])
def test_an_answer_fits_and_never_drops_the_verdict_or_the_confidence(shown, limit):
    done = shown("publish", "answer", "seated-curl-activation", "--limit", str(limit), "--json")
    answer = json.loads(done.text)
    text = answer["text"].rstrip("\n")
    assert len(text) <= limit
    assert text.startswith(
        "[Invented data] It is unclear whether activation of the hamstring muscles differs"
    )
    assert "Confidence: low; against: " in text
    assert text.endswith("https://doi.org/10.5555/steelyard.demo.01")


def test_an_answer_that_cannot_be_honest_is_refused(shown):
    done = shown("publish", "answer", "seated-curl-activation", "--limit", "50")
    assert done.status == 2
    assert "holds no honest answer" in done.text


def outputs(demonstration: Path) -> dict[str, tuple[str, ...]]:
    programme = str(demonstration.parent / "inputs" / "programme.yaml")
    return {
        "article": ("publish", "article", "article.md"),
        "source list": ("publish", "sources", "video.vtt"),
        "handout": ("publish", "handout", "--region", "hamstrings"),
        "answer": ("publish", "answer", "seated-curl-growth"),
        "brief": ("brief", "seated-curl-growth"),
        "programme": ("programme", "annotate", programme),
    }


@pytest.mark.parametrize("name", ["article", "source list", "answer", "brief", "programme"])
def test_an_output_is_the_same_each_time(shown, demonstration, tmp_path, name):
    for file in ("first.pdf", "second.pdf"):
        assert shown(*outputs(demonstration)[name], "--to", tmp_path / file).status == 0
    assert (tmp_path / "first.pdf").read_bytes() == (tmp_path / "second.pdf").read_bytes()


@pytest.mark.parametrize("kind", FORMATS)
def test_a_handout_is_written_in_every_format(shown, demonstration, tmp_path, kind):
    file = tmp_path / f"out.{kind}"
    assert shown(*outputs(demonstration)["handout"], "--to", file).status == 0
    start = {"pdf": b"%PDF-", "docx": b"PK", "xlsx": b"PK"}.get(kind, b"")
    assert file.read_bytes().startswith(start)
    assert file.stat().st_size > 500


@pytest.mark.parametrize("name", ["article", "source list", "handout", "answer", "brief", "programme"])
def test_every_output_is_kept_as_a_use_of_its_claims(shown, demonstration, tmp_path, name):
    assert shown(*outputs(demonstration)[name], "--to", tmp_path / "out.html").status == 0
    claim = "seated-curl-activation" if name == "source list" else "seated-curl-growth"
    assert "out.html" in shown("uses", claim).text


@pytest.mark.parametrize("name", ["article", "handout", "brief", "programme", "source list", "answer"])
def test_no_file_is_written_over_unless_that_is_said(shown, demonstration, tmp_path, name):
    file = tmp_path / "mine.txt"
    file.write_text("mine", "utf-8")
    assert shown(*outputs(demonstration)[name], "--to", file).status == 2
    assert file.read_text("utf-8") == "mine"
    assert shown(*outputs(demonstration)[name], "--to", file, "--replace").status == 0


def test_the_plan_alone_is_one_page_on_either_paper(shown, demonstration, tmp_path):
    from pypdf import PdfReader

    for paper in ("a4", "letter"):
        command = (
            *outputs(demonstration)["programme"],
            "--one-page",
            "--paper",
            paper,
            "--to",
            tmp_path / f"{paper}.pdf",
        )
        assert shown(*command).status == 0
        pages = PdfReader(BytesIO((tmp_path / f"{paper}.pdf").read_bytes())).pages
        assert len(pages) == 1
        assert "not medical advice" in " ".join(pages[0].extract_text().split())


def test_a_programme_tells_swaps_within_its_equipment_and_how_they_compare(shown, demonstration):
    text = shown(*outputs(demonstration)["programme"], "--format", "md").text
    assert "| lying leg curl | It is unclear whether growth of the hamstring muscles differs" in text
    assert "+0.14 (95 % interval −0.54 to 0.81, standard deviations); 3 studies, 80 people." in text
    assert "cable" not in text  # no cable is named in the equipment
    assert "Not at hand:** bench" in text.replace("Not at hand: **", "Not at hand:** ")


def test_a_claim_on_another_muscle_counts_neither_way(shown, tmp_path):
    plan = tmp_path / "plan.yaml"
    plan.write_text(
        'steelyard: programme/1\ntitle: "[Invented] Plan"\ngoal: growth\nsessions:\n  - name: A\n    picks:\n'
        "      - {exercise: seated calf raise, sets: 3, reps: 10, for: soleus}\n",
        "utf-8",
    )
    text = shown("programme", "annotate", plan).text
    assert "It is about a muscle for which this pick is not chosen" in text  # gastrocnemius
    assert "1 with only open answers" in text


@pytest.mark.parametrize(
    "typed",
    [
        ("publish", "article", "source.md", "--to", "source.md"),
        ("publish", "sources", "source.md", "--to", "source.md"),
        ("programme", "annotate", "source.md", "--to", "source.md"),
    ],
)
def test_what_an_output_is_made_from_is_never_written_over(shown, tmp_path, typed):
    file = tmp_path / "source.md"
    file.write_text("# [Invented] Day\n\n- Squat 3x10\n", "utf-8")
    done = shown(*typed, "--replace")
    assert (done.status, "is what this is made from" in done.text) == (2, True)
    assert file.read_text("utf-8").startswith("# [Invented] Day")


def test_a_style_that_is_none_is_refused_though_nothing_is_cited(shown, tmp_path):
    (tmp_path / "plain.md").write_text("# [Invented] Plain\n\nSquats are done standing.\n", "utf-8")
    done = shown("publish", "article", "plain.md", "--style", "banana")
    assert (done.status, "there is no style 'banana'" in done.text) == (2, True)


def test_an_article_that_was_held_against_nothing_does_not_say_it_was_checked(shown, tmp_path):
    (tmp_path / "plain.md").write_text("# [Invented] Plain\n\nSquats are done standing.\n", "utf-8")
    done = shown("publish", "article", "plain.md")
    assert done.status == 0
    assert "Checked against" not in done.text
    assert "nothing was held against the catalogue" in " ".join(done.text.split())
    assert "Checked against" in shown("publish", "article", "article.md").text


def test_front_matter_that_cannot_be_read_is_told(shown, tmp_path):
    (tmp_path / "odd.md").write_text("---\ntitle: [open\n---\n\n# [Invented] Odd\n", "utf-8")
    assert "front matter cannot be read" in " ".join(shown("publish", "article", "odd.md").text.split())


def test_an_ending_that_is_not_the_format_asked_for_is_refused(shown, tmp_path: Path) -> None:
    for command in (("brief", "seated-curl-growth"), ("publish", "answer", "seated-curl-growth")):
        done = shown(*command, "--to", "b.txt", "--format", "pdf")
        assert done.status == 2 and 'ends in ".txt"' in done.text and "pdf" in done.text
        assert not (tmp_path / "b.txt").exists()
    assert shown("brief", "seated-curl-growth", "--to", "b.txt", "--format", "txt").status == 0


@pytest.mark.parametrize("format", ["md", "html", "txt"])
def test_no_command_of_ours_is_told_to_readers(format: str, shown, tmp_path: Path) -> None:
    for row in json.loads(shown("claim", "list", "--json").text):
        shown("brief", row["key"], "--to", f"{row['key']}.{format}")
    shown("publish", "handout", "--region", "hamstrings", "--to", f"handout.{format}")
    written = list(tmp_path.glob(f"*.{format}"))
    assert len(written) > 5
    for path in written:
        assert not re.search(
            r"\bsteelyard (claim|draft|refs|study|weigh|publish)\b", path.read_text("utf-8")
        ), path


def test_characters_that_a_pdf_cannot_show_are_told_by_name(shown, tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text("# 漢字 and 🏋\n\nPlain words.\n", "utf-8")
    done = shown("publish", "article", "a.md", "--to", "a.pdf")
    assert done.status == 0 and "漢 (U+6F22)" in done.text and "U+1F3CB" in done.text
    assert "cannot be shown" not in shown("publish", "article", "a.md", "--to", "a.docx").text
    (tmp_path / "b.md").write_text("# Größe 12 ± 3 µm\n\nPlain words.\n", "utf-8")
    assert "cannot be shown" not in shown("publish", "article", "b.md", "--to", "b.pdf").text


def test_how_a_pick_is_done_is_said_once_and_what_a_claim_does_not_tell_apart(shown, tmp_path: Path) -> None:
    (tmp_path / "plan.txt").write_text("Smith machine standing calf raise 3x10\nNordic curl 3x5\n", "utf-8")
    text = " ".join(shown("programme", "annotate", "plan.txt").text.split())
    assert "(smith, machine)" not in text and "Smith machine standing calf raise for gastrocnemius" in text
    assert text.count('Is about the exercise as such: "smith machine" is not told apart.') == 2
    assert text.count("as such") == 2  # and not of the Nordic curl


def test_a_reason_is_printed_without_the_mark_that_ties_it(shown, tmp_path: Path) -> None:
    (tmp_path / "plan.yaml").write_text(
        "steelyard: programme/1\ntitle: Plan\ncautions: [Mind the step.]\nsessions:\n  - name: A\n    picks:\n"
        '      - {exercise: seated leg curl, sets: 3, reason: "[It may grow more]{claim=seated-curl-growth}, so."}\n',
        "utf-8",
    )
    text = shown("programme", "annotate", "plan.yaml").text
    assert "It may grow more, so." in text and "{claim=" not in text and "Mind the step." in text


def test_a_reason_may_cite_by_doi_and_one_that_no_source_has_stays_as_typed(shown, tmp_path: Path) -> None:
    (tmp_path / "plan.yaml").write_text(
        "title: Plan\nsessions:\n  - picks:\n      - exercise: back squat\n        sets: 3\n"
        '        reason: "It may grow more (10.5555/steelyard.demo.02), or not (10.5555/nowhere.1)."\n',
        "utf-8",
    )
    text = " ".join(shown("programme", "annotate", "plan.yaml").text.split())
    assert "It may grow more (Barbell & Plate 2020), or not (10.5555/nowhere.1)." in text
    assert (
        "no source has the DOI 10.5555/nowhere.1. To add it: steelyard refs look-up 10.5555/nowhere.1" in text
    )


@pytest.mark.parametrize("style", ["plain", "vancouver"])
def test_a_key_that_no_source_has_stays_visible_beside_those_that_are_known(shown, style) -> None:
    Path("cited.md").write_text(
        "# [Invented] Curls\n\nSo it is [see @barbell2020, p. 2; @nosuch1999, p. 3; and a talk].\n", "utf-8"
    )
    done = shown("publish", "article", "cited.md", "--style", style, "--format", "md")
    text = done.text.replace("\\", "")
    assert "no source has the key nosuch1999" in text
    known = "(see Barbell & Plate 2020, p. 2)" if style == "plain" else "(see 1)"
    unprinted = 'The style "vancouver" prints no places: "p. 2" of barbell2020 is not in the text.'
    assert (unprinted in text) == (style == "vancouver")
    assert f"{known} [source not in the catalogue: nosuch1999, p. 3, and a talk]" in text


@pytest.mark.parametrize("form", ["md", "txt", "html", "docx", "pdf"])
def test_a_reason_keeps_the_pages_and_the_keys_that_nothing_has(shown, tmp_path: Path, form) -> None:
    (tmp_path / "plan.yaml").write_text(
        'title: "[Invented] A plan"\nsessions:\n  - picks:\n'
        '      - {exercise: back squat, sets: 3, reason: "So it is [@rack2020, p. 4; @none1999, p. 3]."}\n',
        encoding="utf-8",
    )
    done = shown("programme", "annotate", "plan.yaml", "--to", f"plan.{form}")
    assert "plan.yaml, line 4: no source has the key none1999." in done.text
    text = text_of(tmp_path / f"plan.{form}")
    assert "(Rack et al. 2020, p. 4) [source not in the catalogue: none1999, p. 3]" in text


VARIANT = (
    "What was studied is the Romanian deadlift, not the single-leg Romanian deadlift: indirect for this pick"
)


@pytest.mark.parametrize("form", ["md", "txt", "html", "docx", "pdf", "csv", "xlsx"])
def test_a_variant_is_told_in_every_format_that_its_parent_was_studied(shown, tmp_path: Path, form) -> None:
    plan = "---\ntitle: '[Invented] A plan'\n---\n## Day 1\n- Single-leg RDL 3x8/leg\n- High-bar squat 3x5\n"
    (tmp_path / "plan.md").write_text(plan, "utf-8")
    assert shown("programme", "annotate", "plan.md", "--to", f"out.{form}").status == 0
    text = text_of(tmp_path / f"out.{form}")
    assert VARIANT in text
    assert "a related exercise only" in text  # the high-bar squat, beside claims on the squat
    one_page = shown("programme", "annotate", "plan.md", "--one-page").text
    assert "a related exercise only" in one_page


def test_the_note_of_a_warm_up_is_kept_beside_the_word(shown, tmp_path: Path) -> None:
    (tmp_path / "plan.md").write_text("- Warm-up: leg press 1x15 (slow)\n- Leg press 3x10\n", "utf-8")
    assert "warm-up; slow" in " ".join(
        shown("programme", "annotate", "plan.md", "--format", "csv").text.split()
    )


def test_a_programme_as_data_says_what_was_studied_and_what_is_to_be_asked(shown, tmp_path: Path) -> None:
    (tmp_path / "plan.md").write_text("- Single-leg RDL 3x8\n- Calf thing 3x8\n", "utf-8")
    data = json.loads(shown("programme", "annotate", "plan.md", "--json").text)
    (claim,) = data["programme"]["sessions"][0]["picks"][0]["claims"]
    assert (claim["studied"], claim["indirect"], claim["own"]) == (VARIANT, True, False)
    assert data["path"] is None and any("Calf thing" in note for note in data["notes"])
    written = json.loads(shown("programme", "annotate", "plan.md", "--json", "--to", "plan.txt").text)
    assert written["path"] == "plan.txt" and (tmp_path / "plan.txt").exists()


def test_a_plan_that_no_page_holds_says_so(shown, tmp_path: Path) -> None:
    picks = "\n".join(f"- {name} 3x10" for name in ("Back squat", "Seated leg curl", "Hip thrust", "RDL") * 3)
    (tmp_path / "long.md").write_text("\n\n".join(f"# Day {n}\n\n{picks}" for n in range(1, 8)), "utf-8")
    said = "It does not fit on one page: in the smallest letters that can be read it takes 2."
    for form in ("pdf", "docx"):
        assert said in shown("programme", "annotate", "long.md", "--one-page", "--to", f"long.{form}").text
    assert "one page:" not in shown("programme", "annotate", "long.md", "--to", "whole.pdf").text
    (tmp_path / "short.md").write_text("- Back squat 3x10\n", "utf-8")
    assert "one page:" not in shown("programme", "annotate", "short.md", "--one-page", "--to", "s.docx").text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_claim_of_the_demonstration_has_a_brief_of_one_page(paper: str, shown, tmp_path: Path) -> None:
    from pypdf import PdfReader

    for row in json.loads(shown("claim", "list", "--json").text):
        to = tmp_path / f"{row['key']}.pdf"
        assert shown("brief", row["key"], "--one-page", "--paper", paper, "--to", str(to)).status == 0
        pages = PdfReader(to).pages
        assert len(pages) == 1, row["key"]
        assert "Sources" in pages[0].extract_text()


def test_citations_in_a_reason_are_set_and_their_sources_listed(shown, tmp_path: Path) -> None:
    (tmp_path / "plan.yaml").write_text(
        'title: "[Invented] A plan"\nnote: "Thanks to @coach_anna."\nsessions:\n  - picks:\n'
        "      - {exercise: back squat, sets: 3, "
        'reason: "As @collar2014 did, see [@Rack2020, p. 4]; not [@none1999]."}\n',
        encoding="utf-8",
    )
    done = shown("programme", "annotate", "plan.yaml", "--to", "plan.md")
    assert "plan.yaml, line 5: no source has the key none1999." in done.text
    text = (tmp_path / "plan.md").read_text("utf-8").replace("\\", "")
    assert (
        "As Collar (2014) did, see (Rack et al. 2020, p. 4); not [source not in the catalogue: none1999]."
        in text
    )
    assert "Thanks to @coach_anna." in text  # a name that is no source's key may be a person's
    assert "Hip angle in the leg extension" in text  # listed, although no claim of the plan rests on it
    assert "plan.md" in shown("uses", "rack2020").text
