"""Three whole invented texts through the real command: checked, tied, published in every format.

An article of some 1,100 words, the captions of a ten-minute script, and a programme of two days; the texts and the
catalogue they are held against are those of tests/evidence/workflows/drafts/data and tests/cases/drafts.
"""

import importlib.util
import json
import re
import shutil
import sys
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest

from evidence.publishing.formats import FORMATS

TESTS = Path(__file__).parents[2]
TEXTS = TESTS / "evidence" / "workflows" / "drafts" / "data"
OUTPUTS = {
    "article.md": ("publish", "article"),
    "script.vtt": ("publish", "sources"),
    "programme.md": ("programme", "annotate"),
}


@pytest.fixture(scope="module")
def catalogue_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented catalogue of the drafts cases, made once for all tests of this file."""
    spec = importlib.util.spec_from_file_location(
        "cases_drafts_catalogue", TESTS / "cases" / "drafts_catalogue.py"
    )
    assert spec and spec.loader
    cases = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = cases
    spec.loader.exec_module(cases)
    folder = tmp_path_factory.mktemp("real")
    cases.make_catalogue(folder).close()
    return folder / "drafts.sqlite"


@pytest.fixture
def writing(steelyard, catalogue_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The command on a copy of that catalogue, in a folder that holds the three texts."""
    shutil.copy(catalogue_file, tmp_path / "own.sqlite")
    monkeypatch.setenv("STEELYARD_CATALOGUE", str(tmp_path / "own.sqlite"))
    for name in OUTPUTS:
        shutil.copy(TEXTS / name, tmp_path / name)
    return steelyard


def findings(said: str) -> list[dict[str, object]]:
    """The open findings of one draft, from `draft check --json`."""
    (checked,) = json.loads(said)
    return [f for f in checked["findings"] if f["accepted"] is None]


def read_back(file: Path) -> str:
    """The words of a written file, on one line."""
    kind, data = file.suffix[1:], file.read_bytes()
    if kind == "pdf":
        from pypdf import PdfReader

        text = " ".join(page.extract_text() for page in PdfReader(BytesIO(data)).pages)
    elif kind in ("docx", "xlsx"):
        with ZipFile(file) as packed:
            parts = [n for n in packed.namelist() if n.endswith(".xml")]
            text = " ".join(re.sub(r"<[^>]+>", "", packed.read(n).decode("utf-8")) for n in parts)
    else:
        text = data.decode("utf-8-sig")
        text = re.sub(r"<[^>]+>", "", text) if kind == "html" else text
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("name", "errors", "of_people"), [("article.md", 16, 0), ("script.vtt", 7, 2), ("programme.md", 4, 6)]
)
def test_a_check_finds_what_is_wrong_and_ends_with_status_1(writing, name, errors, of_people):
    done = writing("draft", "check", name, "--json")
    assert done.status == 1
    found = findings(done.text)
    assert sum(f["severity"] == "error" for f in found) == errors
    assert sum(f["kind"] == "other-people" for f in found) == of_people


def test_a_copy_with_the_wordings_in_it_no_longer_shows_what_they_mend(writing, tmp_path):
    for key in sorted(set(re.findall(r"\{claim=([a-z-]+)\}", (tmp_path / "article.md").read_text("utf-8")))):
        assert writing("weigh", key).status in (0, 1)  # wordings are those of the last weighing
    before = findings(writing("draft", "check", "article.md", "--json").text)
    done = writing("draft", "check", "article.md", "--fix", "all", "--to", "better.md")
    assert re.search(r"Wrote better\.md with \d+ of the wordings", done.text)
    after = findings(writing("draft", "check", "better.md", "--json").text)
    for kind in (
        "stronger-than-confidence",
        "absence-as-sameness",
        "surrogate-as-outcome",
        "figure-differs",
        "single-small-study",
        "cause-beyond-design",
        "other-view-left-out",
    ):
        assert any(f["kind"] == kind for f in before), kind
        assert not any(f["kind"] == kind for f in after), kind
    # what only a person can settle stays: a retracted source, an unknown one, advice that can hurt
    kinds = {f["kind"] for f in after}
    assert {"notice", "unknown-citation", "safety", "mixed-scales"} <= kinds
    assert (tmp_path / "article.md").read_text("utf-8") == (TEXTS / "article.md").read_text("utf-8")


def test_ties_taken_out_of_the_article_are_proposed_and_written_into_a_copy(writing, tmp_path):
    bare = re.sub(
        r"^\[(.*)\]\{claim=[a-z-]+\}$",
        r"\1",
        (tmp_path / "article.md").read_text("utf-8"),
        flags=re.MULTILINE,
    )
    (tmp_path / "bare.md").write_text(bare, "utf-8")
    assert writing("draft", "tie", "bare.md", "--all", "--to", "tied.md").status == 0
    tied = (tmp_path / "tied.md").read_text("utf-8")
    assert tied.count("{claim=") >= 14
    assert re.sub(r"\[([^\n]*)\]\{claim=[a-z-]+\}", r"\1", tied) == bare


def test_ties_are_proposed_for_captions_and_never_written_where_viewers_would_read_them(writing, tmp_path):
    assert "score 1.00" in writing("draft", "tie", "script.vtt").text
    done = writing("draft", "tie", "script.vtt", "--all", "--to", "tied.vtt")
    assert done.status == 2
    assert "captions show every sign they hold" in done.text
    assert not (tmp_path / "tied.vtt").exists()


def test_the_sources_that_a_script_names_in_words_are_listed_with_their_times(writing):
    done = writing("publish", "sources", "script.vtt")
    assert "01:59, 02:42, 08:27 Marrowby & Tansy 2021, doi.org/10.5555/sy.marrowby2021" in done.text
    assert len(re.findall(r"^\d\d:\d\d,? .*doi\.org/10\.5555", done.text, re.MULTILINE)) == 20
    # a wrong year and a source that nobody knows are not listed; the one that is near is told
    assert '00:04:52.146: "Fennimore and Askrigg (2021)" is not listed (the record says 2023' in done.text
    assert "Bloomfeather" not in done.text


def test_the_list_of_a_script_fits_its_limit(writing, tmp_path):
    done = writing("publish", "sources", "script.vtt", "--limit", "1500", "--to", "under.txt")
    assert done.status == 0
    assert "Cut: what each source supports." in done.text
    assert len((tmp_path / "under.txt").read_text("utf-8")) <= 1500


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("name", OUTPUTS)
def test_each_text_goes_out_in_every_format_and_names_the_state_it_rests_on(writing, tmp_path, name, kind):
    file = tmp_path / f"out.{kind}"
    done = writing(*OUTPUTS[name], name, "--to", file)
    if name == "article.md" and kind in ("csv", "xlsx"):  # it holds no table
        assert done.status == 2
        assert "nothing to put into a spreadsheet" in done.text
        return
    assert done.status == 0
    text = read_back(file)
    assert re.search(r"catalogue(?:_hash| state)?\W+[0-9a-f]{16}", text), text[-600:]
    assert "nvented" in text


def test_the_published_article_holds_its_boxes_its_sources_and_the_retraction(writing):
    done = writing("publish", "article", "article.md", "--format", "md")
    assert done.text.count("> The evidence on") == 17
    assert "hollowmere2017 is marked as retracted." in done.text
    assert "no source has the key whernside2024" in done.text


def test_the_published_programme_has_its_days_cautions_and_evidence(writing):
    text = " ".join(writing("programme", "annotate", "programme.md", "--format", "txt").text.split())
    for heading in ("Two days for the legs", "Day 1 -----", "Day 2 -----"):
        assert heading in text
    assert "General training information, not medical advice" in text
    assert "It is unclear whether growth of the hamstring muscles differs" in text


def test_a_retraction_names_each_of_the_three_texts_that_rests_on_it(writing, tmp_path):
    for name, ending in (("article.md", "html"), ("script.vtt", "txt"), ("programme.md", "pdf")):
        assert writing(*OUTPUTS[name], name, "--to", f"{Path(name).stem}.{ending}").status == 0
    (tmp_path / "notices.csv").write_text(
        "OriginalPaperDOI,OriginalPaperPubMedID,RetractionNature,RetractionDate,RetractionDOI,Reason\n"
        "10.5555/sy.tollerton2019,0,Retraction,3/1/2026 0:00,10.5555/sy.r1,+Invented reason;\n"
        "10.5555/sy.odgekirk2018,0,Retraction,3/1/2026 0:00,10.5555/sy.r2,+Invented reason;\n",
        "utf-8",
    )
    assert writing("refs", "notices", "apply", "notices.csv").status == 1
    assert "article article.html, tollerton2019: NO LONGER HOLDS" in writing("uses", "tollerton2019").text
    told = writing("uses", "odgekirk2018").text
    assert "source list script.txt, odgekirk2018: NO LONGER HOLDS" in told
    assert "programme programme.pdf" in told
    assert writing("changes", "--notes", "--to", "notes").status == 0
    names = {path.name for path in (tmp_path / "notes").iterdir()}
    assert {"correction-article-article.html.md", "correction-source-list-script.txt.md"} <= names
