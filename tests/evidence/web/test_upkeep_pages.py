"""What moved, what is due and whether all is sound: told for a coach, with what to do next on the page itself."""

import io
import re
import zipfile

from evidence.workflows.upkeep.uses import register_use
from evidence.workflows.weigh.weighing import weigh


def test_what_moved_is_told_side_by_side_and_not_again_below(visitor):
    text = visitor.get("/changes").text
    assert "the size was in relative percent" not in text  # a sentence of its own begins large
    assert "The size was in relative percent, now in standard deviations" in text
    assert "it was worded" not in text and "log ratio" not in text and "smd" not in text
    assert "other studies answer the question more directly" in text and "study load" not in text
    assert 'href="/studies/kettle-2025"' in text


def test_the_correction_note_is_a_press_away_in_every_format(visitor):
    text = visitor.get("/changes").text
    assert "steelyard changes" not in text and "Correction notes as PDF" in text
    for form, begins in (("pdf", b"%PDF"), ("docx", b"PK"), ("html", b"<!doctype"), ("md", b"# Correction")):
        answer = visitor.get(f"/changes/notes.{form}")
        assert answer.status_code == 200 and answer.content.lstrip().startswith(begins), form
        assert "correction-programme" in answer.headers["content-disposition"]
    assert "unclear whether growth" in visitor.get("/changes/notes.txt").text


def test_notes_to_several_things_come_in_one_archive(visitor, site):
    weighing = weigh(site.catalogue, "standing-calf-growth")
    register_use(site.catalogue, "article", "calves", "Ada", weighings=[weighing])
    visitor.post("/studies/rack-2016/remove", data={"because": "a test"})
    answer = visitor.get("/changes/notes.md")
    names = zipfile.ZipFile(io.BytesIO(answer.content)).namelist()
    assert sorted(name for name in names if name.endswith(".md")) == [
        "notes/correction-article-calves.md",
        "notes/correction-programme-programme.html.md",
    ]


def test_where_nothing_has_to_be_corrected_no_note_is_offered_or_made(visitor):
    visitor.post("/changes")
    assert "Correction notes" not in visitor.get("/changes").text
    answer = visitor.get("/changes/notes.pdf")
    assert answer.status_code == 404 and "has to be corrected" in answer.text
    assert visitor.get("/changes/notes.exe").status_code == 422


def test_what_is_coming_is_told_by_the_words_of_the_claim(visitor):
    coming = visitor.get("/review").text.partition("Coming</h2>")[2]
    assert "<bdi>Leg extension activates the rectus femoris more than leg press</bdi>" in coming
    assert re.search(r"due \d{4}-\d\d-\d\d", coming)


def test_a_check_says_when_it_was_made_and_can_be_run_again(visitor):
    text = visitor.get("/catalogue/check").text
    assert re.search(r"Looked through on <time[^>]*>\d{4}-\d\d-\d\d, \d\d:\d\d:\d\d UTC", text)
    assert '<a class="button quiet" href="/catalogue/check">Run it again' in text
    figures = visitor.get("/catalogue/check?figures=yes").text
    assert (
        "printed figures too, on" in figures and 'href="/catalogue/check?figures=yes">Run it again' in figures
    )
    assert "Looked through" not in visitor.get("/catalogue").text
