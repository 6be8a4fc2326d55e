"""Three whole texts, each [Invented]: an article of some 1,100 words, a script of ten minutes, a two-day programme.

What is expected was read off the texts and the catalogue by hand; a finding that is not listed is a false alarm.
"""

from pathlib import Path

import pytest

from evidence.reading.drafts import read_draft
from evidence.workflows.drafts.checking import check_draft
from evidence.workflows.drafts.knowledge import Knowledge
from evidence.workflows.drafts.tying import propose_ties, write_ties

DATA = Path(__file__).parent / "data"
ARTICLE = {
    35: {"stronger-than-confidence", "single-small-study", "notice"},
    38: {"absence-as-sameness"},
    42: {"notice"},
    47: {"other-view-left-out", "stale"},
    50: {"cause-beyond-design", "safety", "stronger-than-confidence"},
    56: {"mixed-scales"},
    59: {"surrogate-as-outcome", "stronger-than-confidence"},
    60: {"acute-as-lasting"},
    63: {"no-source", "superlative"},
    69: {"stronger-than-confidence"},
    75: {"notice"},
    76: {"abstract-only"},
    83: {"absence-as-sameness"},
    90: {"figure-differs"},
    99: {"safety"},
    106: {"unknown-citation"},
}
SCRIPT = {
    "00:03:06": {"no-source", "safety"},
    "00:03:40": {"safety"},
    "00:04:52": {"wrong-source-details"},
    "00:05:47": {"notice"},
    "00:06:11": {"counted-twice"},
    "00:06:27": {"within-as-between", "stronger-than-confidence"},
    "00:08:10": {"superlative"},
    "00:08:27": {"other-people"},
    "00:08:44": {"other-people"},
    "00:09:05": {"unknown-citation"},
}
PROGRAMME = {
    16: {"other-people"},
    17: {"other-people"},
    18: {"other-people", "stronger-than-confidence"},
    23: {"other-people"},
    25: {"other-people"},  # the sameness there is accepted, with its reason
    27: {"other-people", "safety", "stronger-than-confidence"},
    33: {"safety"},
}


def found(name: str, knowledge: Knowledge) -> dict[object, set[str]]:
    checked = check_draft(read_draft(DATA / name), knowledge)
    told: dict[object, set[str]] = {}
    for f in checked.findings:
        if f.accepted is None:
            told.setdefault(f.place.cue[:8] if f.place.cue else f.place.line, set()).add(f.kind)
    return told


@pytest.mark.parametrize(
    ("name", "expected"), [("article.md", ARTICLE), ("script.vtt", SCRIPT), ("programme.md", PROGRAMME)]
)
def test_a_whole_text_gives_what_a_reader_would_mark_and_nothing_else(
    name: str, expected: dict[object, set[str]], knowledge: Knowledge
) -> None:
    assert found(name, knowledge) == expected


def test_the_accepted_sameness_of_the_programme_is_still_listed(knowledge: Knowledge) -> None:
    checked = check_draft(read_draft(DATA / "programme.md"), knowledge)
    assert [(f.kind, f.place.line) for f in checked.findings if f.accepted] == [("absence-as-sameness", 25)]


def test_ties_are_proposed_for_the_script_and_say_why(knowledge: Knowledge) -> None:
    ties = propose_ties(read_draft(DATA / "script.vtt"), knowledge)
    claims = {" ".join(t.text.split())[:30]: t.target for t in ties if t.kind == "claim" and t.score >= 0.8}
    assert claims["Seated curls probably grow the"] == "seated-curl-growth"
    assert claims["Heavy sets raise the squat max"] == "heavy-squat-strength"
    assert all(t.reasons for t in ties)
    cited = {t.target for t in ties if t.kind == "citation" and t.score == 1.0}
    assert {"thistledown2019", "marrowby2021", "larkrigg2022", "heronsgill2023pre"} <= cited


def test_an_article_whose_ties_were_taken_out_gets_most_of_them_back(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    import re

    text = (DATA / "article.md").read_text("utf-8")
    bare = tmp_path / "bare.md"
    bare.write_text(re.sub(r"^\[(.*)\]\{claim=[a-z-]+\}$", r"\1", text, flags=re.MULTILINE), "utf-8")
    before = {s.text: s.claims for s in read_draft(DATA / "article.md").sentences if s.claims}
    draft = read_draft(bare)
    target = tmp_path / "tied.md"
    write_ties(draft, propose_ties(draft, knowledge), "all", target)
    after = {s.text: s.claims for s in read_draft(target).sentences if s.claims}
    right = sum(after.get(sentence) == claims for sentence, claims in before.items())
    wrong = sum(sentence in after and after[sentence] != claims for sentence, claims in before.items())
    assert right >= 0.6 * len(before) and wrong <= 0.2 * len(before), (right, wrong, len(before))
    assert [s.text for s in read_draft(target).sentences] == [s.text for s in draft.sentences]
