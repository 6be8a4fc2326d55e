"""Markdown drafts: sentences, citations, ties and accepted findings, each with its place in the source."""

from evidence.reading.drafts import Draft, read_draft_text


def read(text: str) -> Draft:
    return read_draft_text(text, "markdown")


def shown(draft: Draft) -> list[str]:
    return [s.text for s in draft.sentences]


def test_a_sentence_knows_its_place_whatever_marks_stand_before_it() -> None:
    text = "# Top\n\n> - *First* line.\n>   Second **line** here.\n\n1. Item `code` one.\n"
    draft = read(text)
    assert [(str(draft.place(s.start)), s.text) for s in draft.sentences] == [
        ("1:3", "Top"), ("3:6", "First line."), ("4:5", "Second line here."), ("6:4", "Item  one."),
    ]  # fmt: skip


def test_citations_are_taken_out_of_the_text_and_belong_to_their_sentence() -> None:
    draft = read("One grows [see @a2020, p. 4; @b-c2019]. Two does not.[@d2018] As @e2017 says, three.")
    assert shown(draft) == ["One grows.", "Two does not.", "As e2017 says, three."]
    keys = [[(k.key, k.locator) for c in s.citations for k in c.keys] for s in draft.sentences]
    assert keys == [[("a2020", "p. 4"), ("b-c2019", "")], [("d2018", "")], [("e2017", "")]]
    first = draft.sentences[0].citations[0]
    assert draft.source[first.start : first.end] == "[see @a2020, p. 4; @b-c2019]"


def test_no_word_inside_the_brackets_of_a_citation_is_lost() -> None:
    draft = read("So [a talk; see e.g., @a2020, p. 4; and others; @b2019].")
    keys = [(k.prefix, k.key, k.locator) for s in draft.sentences for c in s.citations for k in c.keys]
    assert keys == [("a talk, see e.g.", "a2020", "p. 4, and others"), ("", "b2019", "")]


def test_an_attributed_span_ties_its_sentences_and_may_hold_citations() -> None:
    draft = read("[One is more. Two is less [@a2020].]{claim=one-over-two}\nThree is free.")
    assert [s.claims for s in draft.sentences] == [("one-over-two",), ("one-over-two",), ()]
    assert [len(s.citations) for s in draft.sentences] == [0, 1, 0]


def test_a_finding_is_accepted_by_an_attribute_a_comment_behind_or_a_comment_above() -> None:
    draft = read(
        '[It is the best.]{claim=x accept="superlative: an opinion column"}\n\n'
        "It is optimal. <!-- accept superlative: said in jest -->\n\n"
        "<!-- accept no-source: common knowledge -->\n\nStudies show it.\n"
    )
    assert [[(a.kind, a.reason) for a in s.accepted] for s in draft.sentences] == [
        [("superlative", "an opinion column")],
        [("superlative", "said in jest")],
        [("no-source", "common knowledge")],
    ]


def test_an_acceptance_without_a_reason_is_none() -> None:
    draft = read('[It is the best.]{claim=x accept="superlative"} <!-- accept superlative: -->')
    assert draft.sentences[0].accepted == ()


def test_scripts_styles_and_code_are_left_out_and_tags_are_not_text() -> None:
    draft = read(
        "<script>alert('Studies show')</script>\n\n<p onclick=\"evil()\">Plain <b>bold</b>.</p>\n\n"
        "```\nStudies show code.\n```\n\nAfter <img src=x onerror=alert(1)> it.\n"
    )
    assert shown(draft) == ["Plain bold.", "After  it."]


def test_broken_marks_are_text() -> None:
    draft = read("An [open bracket and *one star. A @ alone, a <tag and <!-- no end. Email me@here.org.")
    assert "".join(shown(draft)).startswith("An [open bracket and one star.")
    assert all(not s.citations for s in draft.sentences)


def test_a_part_of_an_address_is_no_key() -> None:
    text = "See https://example.org/@coach2019/videos, or @coach2019."
    draft = read(text)
    (citation,) = (c for s in draft.sentences for c in s.citations)
    assert citation.start == text.rindex("@")
    assert "https://example.org/@coach2019/videos" in "".join(shown(draft))


def test_cells_of_a_table_have_their_places() -> None:
    draft = read("| Lift | Why |\n| --- | --- |\n| Squat | It grows [@a2020]. |\n| a \\| b | Last. |\n")
    places = {s.text: str(draft.place(s.start)) for s in draft.sentences}
    assert places["Squat"] == "3:3" and places["It grows."] == "3:11" and places["Last."] == "4:12"


def test_abbreviations_numbers_and_initials_end_no_sentence() -> None:
    draft = read("Smith et al. found 7.5 per cent, e.g. in Fig. 2 vs. A. Jones. Then it ended.")
    assert len(draft.sentences) == 2


def test_front_matter_is_read_and_a_broken_one_is_said_to_be_so() -> None:
    draft = read('---\ntitle: "T"\naudience: women over 60\n---\n\nText.\n')
    assert (draft.title, draft.audience, shown(draft)) == ("T", "women over 60", ["Text."])
    broken = read("---\ntitle: [unclosed\n---\n\nText.\n")
    assert shown(broken) == ["Text."] and "front matter" in broken.notes[0]
