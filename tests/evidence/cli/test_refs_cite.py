"""`refs cite` and `refs write` on the invented demonstration data."""

import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from references import csl
from references.reading import read_path

Run = Callable[..., Any]


@pytest.fixture
def stocked(steelyard: Run, demo_inputs: Path) -> Run:
    assert steelyard("init").status == 0
    assert steelyard("refs", "add", demo_inputs / "references.bib").status == 0
    return steelyard


def test_plain_citing_lists_each_reference_once_in_the_order_of_names(stocked: Run) -> None:
    done = stocked("refs", "cite", "chalk2021", "anvil2019", "chalk2021")
    lines = done.text.splitlines()
    assert done.status == 0
    assert [line.split()[0] for line in lines] == ["Anvil", "Chalk"]
    assert "3(1): 11-19" in lines[0]


def test_a_citation_for_running_text_holds_its_places(stocked: Run) -> None:
    done = stocked("refs", "cite", "chalk2021", "anvil2019", "--in-text", "--at", "anvil2019=p. 3")
    assert done.text == "(Chalk et al. 2021; Anvil et al. 2019, p. 3)\n"
    assert stocked("refs", "cite", "chalk2021", "--at", "anvil2019=p. 3").status == 2
    assert stocked("refs", "cite", "chalk2021", "--at", "p. 3").status == 2


@pytest.mark.parametrize("style", ["plain", "ama", "apa", "vancouver"])
@pytest.mark.parametrize(("form", "italics"), [("html", "<i>Acta"), ("markdown", "*Acta")])
def test_italics_are_those_of_the_form(stocked: Run, style: str, form: str, italics: str) -> None:
    if style == "vancouver":  # it prints journals upright
        italics = "Acta Inventa"
    done = stocked("refs", "cite", "chalk2021", "--style", style, "--as", form)
    assert done.status == 0, done.text
    assert italics in done.text


def test_the_file_s_ending_tells_its_form(stocked: Run, tmp_path: Path) -> None:
    assert stocked("refs", "cite", "chalk2021", "--to", tmp_path / "list.html").status == 0
    page = (tmp_path / "list.html").read_text("utf-8")
    assert page.startswith("<!doctype html>")
    assert "<p>Chalk C" in page
    assert stocked("refs", "cite", "chalk2021", "--to", tmp_path / "list.xyz").status == 2


def test_markup_in_a_title_is_escaped_in_html(steelyard: Run, tmp_path: Path) -> None:
    steelyard("init")
    (tmp_path / "a.json").write_text('[{"id":"a","type":"book","title":"<script>x</script> & y"}]')
    steelyard("refs", "add", tmp_path / "a.json")
    assert "<script>" not in steelyard("refs", "cite", "a", "--as", "html").text


def test_unknown_keys_styles_and_forms_are_told(stocked: Run) -> None:
    missing = stocked("refs", "cite", "chalk2012")
    assert missing.status == 3
    assert "chalk2021" in missing.text
    assert stocked("refs", "cite", "chalk2021", "--style", "nothing").status == 2
    assert stocked("refs", "cite", "chalk2021", "--style", "nothing.csl").status == 2
    assert stocked("refs", "cite", "chalk2021", "--as", "runes").status == 2


def test_without_pandoc_the_plain_style_works_and_others_say_what_to_install(
    stocked: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    csl._format.cache_clear()
    monkeypatch.setitem(sys.modules, "pypandoc", None)
    monkeypatch.setattr(shutil, "which", lambda name: None)
    assert stocked("refs", "cite", "chalk2021").status == 0
    refused = stocked("refs", "cite", "chalk2021", "--style", "ama")
    assert refused.status == 2
    assert "pip install pypandoc-binary" in refused.text


def test_as_json_the_short_forms_come_with_year_letters(steelyard: Run, tmp_path: Path) -> None:
    steelyard("init")
    entries = "".join(
        f"@article{{k{n}, author={{Plate, P}}, year=2020, title={{{t}}}, doi={{10.5555/inv.{n}}}}}\n"
        for n, t in enumerate(["Squats and more squats", "A calf raise held for long"])
    )
    (tmp_path / "a.bib").write_text(entries)
    steelyard("refs", "add", tmp_path / "a.bib")
    shown = json.loads(steelyard("refs", "cite", "k0", "k1", "--json").text)
    assert {label["key"]: label["short"] for label in shown["labels"]} == {
        "k0": "Plate 2020b",
        "k1": "Plate 2020a",
    }


@pytest.mark.parametrize("ending", [".bib", ".ris", ".nbib", ".xml", ".json"])
def test_a_written_file_reads_back_to_the_stored_records(stocked: Run, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"all{ending}"
    done = stocked("refs", "write", path, "--json")
    assert done.status == 0, done.text
    assert json.loads(done.text)["references"] == 12
    back = {record.key: record for record in read_path(path).records}
    stored = json.loads(stocked("refs", "write", tmp_path / "again.json", "--json").text)
    kept = {record.key: record for record in read_path(stored["file"]).records}
    assert back == kept


def test_only_the_named_references_are_written_and_no_file_is_written_over_unasked(
    stocked: Run, tmp_path: Path
) -> None:
    path = tmp_path / "one.bib"
    assert stocked("refs", "write", path, "chalk2021").status == 0
    assert [record.key for record in read_path(path).records] == ["chalk2021"]
    assert stocked("refs", "write", path, "anvil2019").status == 2
    assert "chalk2021" in path.read_text("utf-8")
    assert stocked("refs", "write", path, "anvil2019", "--replace").status == 0
    assert "chalk2021" not in path.read_text("utf-8")


def test_the_format_is_named_where_the_ending_does_not_tell(stocked: Run, tmp_path: Path) -> None:
    assert stocked("refs", "write", tmp_path / "list.refs").status == 2
    assert stocked("refs", "write", tmp_path / "list.refs", "--format", "ris").status == 0
    assert (tmp_path / "list.refs").read_text("utf-8").startswith("TY  - ")
    assert stocked("refs", "write", tmp_path / "x.refs", "--format", "runes").status == 2
    assert stocked("refs", "write", tmp_path / "nowhere" / "x.bib").status == 2


def test_references_that_a_list_of_identifiers_cannot_hold_are_named(steelyard: Run, tmp_path: Path) -> None:
    steelyard("init")
    (tmp_path / "a.bib").write_text("@book{thick, title={A thick book}}\n@misc{d, doi={10.5555/inv.9}}")
    steelyard("refs", "add", tmp_path / "a.bib")
    done = steelyard("refs", "write", tmp_path / "ids.txt")
    assert "thick" in done.text
    assert (tmp_path / "ids.txt").read_text("utf-8") == "10.5555/inv.9\n"


def test_a_list_is_written_as_a_word_processor_file_and_as_pdf(stocked: Run, tmp_path: Path) -> None:
    import docx

    key = json.loads(stocked("refs", "list", "--json").text)[0]["key"]
    for name in ("list.docx", "list.pdf"):
        done = stocked("refs", "cite", key, "--to", tmp_path / name)
        assert done.status == 0, done.text
        assert f"Wrote {tmp_path / name}: 1 reference, style plain." in done.text
    words = " ".join(paragraph.text for paragraph in docx.Document(str(tmp_path / "list.docx")).paragraphs)
    assert "[Invented]" in words
    assert (tmp_path / "list.pdf").read_bytes().startswith(b"%PDF-")
    assert stocked("refs", "cite", key, "--as", "pdf").status == 2  # a file is needed


def test_spans_keep_italics_and_lowered_digits() -> None:
    from evidence.workflows.documents.citing import read_spans

    spans = read_spans("VO<sub>2</sub> of <i>Panax <b>x</b></i> & <more")
    assert [(span.text, span.emphasis, span.strong) for span in spans] == [  # type: ignore[union-attr]
        ("VO", False, False),
        ("₂", False, False),
        (" of ", False, False),
        ("Panax ", True, False),
        ("x", True, True),
        (" & <more", False, False),
    ]
