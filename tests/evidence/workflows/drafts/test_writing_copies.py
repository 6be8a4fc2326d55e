"""Copies with wordings and ties in them: the draft itself is never changed, and nothing else in the copy is."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.errors import BadInput
from evidence.reading.drafts import read_draft
from evidence.workflows.drafts.checking import Checked, check_draft
from evidence.workflows.drafts.findings import Replacement
from evidence.workflows.drafts.knowledge import Knowledge
from evidence.workflows.drafts.mending import apply_changes, choose_numbers, mend, without_overlap
from evidence.workflows.drafts.tying import propose_ties, write_ties

TEXT = (
    "In the second study lifters put on 6.0 % seated and 4.4 % lying [@fennimore2023].\n\n"
    "Thistledown's 2018 paper 🏋️ isn't about calves.\n"
)
Check = Callable[..., Checked]


def test_chosen_wordings_are_written_and_the_rest_stays(knowledge: Knowledge, tmp_path: Path) -> None:
    path, copy = tmp_path / "a.md", tmp_path / "b.md"
    path.write_text(TEXT, "utf-8")
    checked = check_draft(read_draft(path), knowledge)
    mended = mend(checked.draft, checked.findings, "all", copy)
    assert path.read_text("utf-8") == TEXT
    assert copy.read_text("utf-8") == TEXT.replace("4.4 %", "3.4 %").replace("2018", "2019")
    assert len(mended.written) == 2
    first = mend(checked.draft, checked.findings, "1", tmp_path / "c.md")
    assert (tmp_path / "c.md").read_text("utf-8") == TEXT.replace("4.4 %", "3.4 %") and first.left == ()


def test_the_draft_itself_is_never_written_over(knowledge: Knowledge, tmp_path: Path) -> None:
    path = tmp_path / "a.md"
    path.write_text(TEXT, "utf-8")
    (tmp_path / "link.md").symlink_to(path)
    checked = check_draft(read_draft(path), knowledge)
    for target in (path, tmp_path / "link.md"):
        with pytest.raises(BadInput, match="the draft itself"):
            mend(checked.draft, checked.findings, "all", target)


@pytest.mark.parametrize("said", ["", "x", "1-", "0", "9", "1,,2"])
def test_numbers_that_name_nothing_are_refused(said: str) -> None:
    with pytest.raises(BadInput):
        choose_numbers(said, [1, 2, 3])


def test_numbers_may_be_listed_and_ranged() -> None:
    assert choose_numbers("3, 1-2,2", [1, 2, 3]) == [3, 1, 2]
    assert choose_numbers("ALL", [1, 2]) == [1, 2]


@given(
    st.text(max_size=60),
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 10), st.text(max_size=5)), max_size=8),
)
def test_replacements_keep_all_that_stands_between_them(text: str, raw: list[tuple[int, int, str]]) -> None:
    changes = [Replacement(min(a, len(text)), min(a + n, len(text)), t) for a, n, t in raw]
    kept = [r for _, r in without_overlap(enumerate(changes))]
    written, at = apply_changes(text, kept), 0
    for change in sorted(kept, key=lambda c: (c.start, c.end)):
        between = text[at : change.start]
        assert between in written
        at = max(at, change.end)
    assert text[at:] == "" or written.endswith(text[at:])


def test_a_docx_copy_keeps_its_look_and_changes_only_the_words_meant(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    from docx import Document

    path, copy = tmp_path / "a.docx", tmp_path / "b.docx"
    document: Any = Document()
    paragraph = document.add_paragraph("Lifters put on 6.0 % seated and ")
    paragraph.add_run("4.4").bold = True
    paragraph.add_run(" % lying [@fennimore2023].")
    document.add_paragraph("Untouched.")
    document.save(str(path))
    before = path.read_bytes()
    checked = check_draft(read_draft(path), knowledge)
    mend(checked.draft, checked.findings, "all", copy)
    assert path.read_bytes() == before
    after: Any = Document(str(copy))
    assert [p.text for p in after.paragraphs] == [
        "Lifters put on 6.0 % seated and 3.4 % lying [@fennimore2023].",
        "Untouched.",
    ]
    assert [r.text for r in after.paragraphs[0].runs if r.bold] == ["3.4 %"]


def test_a_tie_holds_the_citations_that_are_written_inside_it(knowledge: Knowledge, tmp_path: Path) -> None:
    path, copy = tmp_path / "a.md", tmp_path / "b.md"
    path.write_text(
        "Heavy sets raise the squat max more than light sets (Birkrigg 2017).\nI like tea.\n", "utf-8"
    )
    draft = read_draft(path)
    ties = propose_ties(draft, knowledge)
    assert [(t.kind, t.target) for t in ties] == [
        ("claim", "heavy-squat-strength"),
        ("citation", "birkrigg2017"),
    ]
    assert write_ties(draft, ties, "all", copy) == (1, 2)
    assert copy.read_text("utf-8") == (
        "[Heavy sets raise the squat max more than light sets (Birkrigg 2017 [@birkrigg2017]).]"
        "{claim=heavy-squat-strength}\n"
        "I like tea.\n"
    )
    assert propose_ties(read_draft(copy), knowledge) == ()


def test_nothing_is_proposed_for_talk_that_claims_nothing(knowledge: Knowledge, tmp_path: Path) -> None:
    path = tmp_path / "a.md"
    path.write_text(
        "Is the squat better than the leg press?\nDo 3 x 8 squats.\nMy dog likes calf raises.\n", "utf-8"
    )
    assert propose_ties(read_draft(path), knowledge) == ()
