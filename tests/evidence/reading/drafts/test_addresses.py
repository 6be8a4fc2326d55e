"""DOIs in a draft: what is read as one citation, where it ends, what stays of the sentence, where it is set."""

import pytest

from evidence.reading.drafts import Citation, Draft, read_draft_text
from evidence.reading.drafts.addresses import without_addresses


def read(text: str, form: str = "markdown") -> tuple[Draft, list[Citation]]:
    draft = read_draft_text(text, form)
    return draft, [c for block in draft.blocks for c in block.citations]


@pytest.mark.parametrize("form", ["markdown", "text"])
@pytest.mark.parametrize(
    ("text", "typed", "words"),
    [
        ("It grows more (https://doi.org/10.5555/a.b).", "(https://doi.org/10.5555/a.b)", "It grows more."),
        ("It grows more (10.5555/a.b).", "(10.5555/a.b)", "It grows more."),
        ("It grows more, doi:10.5555/a.b.", "doi:10.5555/a.b", "It grows more."),
        ("It grows more DOI 10.5555/A.B, and fast.", "DOI 10.5555/A.B", "It grows more, and fast."),
        ("It grows more <https://doi.org/10.5555/a.b>.", "<https://doi.org/10.5555/a.b>", "It grows more."),
        ("It grows more http://dx.doi.org/10.5555/a.b", "http://dx.doi.org/10.5555/a.b", "It grows more "),
        ("As 10.5555/a.b showed, it grows.", "10.5555/a.b", "As showed, it grows."),
        ("It grows more [10.5555/a.b].", "[10.5555/a.b]", "It grows more."),
    ],
)
def test_a_doi_cites_its_source_and_is_no_word_of_the_sentence(
    form: str, text: str, typed: str, words: str
) -> None:
    draft, (cited,) = read(text, form)
    assert [k.key for k in cited.keys] == ["10.5555/a.b"] and cited.address
    assert text[cited.start : cited.end] == typed
    assert [s.text for s in draft.sentences] == [words.strip()]
    assert draft.sentences[0].citations == (cited,)


def test_brackets_of_a_doi_hold_words_and_a_place_as_those_of_a_key_do() -> None:
    draft, (one, two) = read("More (see 10.5555/a, p. 4). Less (10.5555/b; https://doi.org/10.5555/c).")
    assert [(k.prefix, k.key, k.locator) for k in one.keys] == [("see", "10.5555/a", "p. 4")]
    assert [k.key for k in two.keys] == ["10.5555/b", "10.5555/c"]
    assert [s.text for s in draft.sentences] == ["More.", "Less."]


def test_brackets_inside_a_doi_are_its_own() -> None:
    # The forms are those of two publishers' older DOIs; the numbers are invented.
    for doi in (
        "10.1016/S0140-6736(05)12345-6",
        "10.1002/(SICI)1097-4598(199801)21:1<1::AID-MUS1>3.0.CO;2-2",
    ):
        for text in (f"It grows ({doi}) more.", f"It grows {doi} more."):
            assert read(text)[1][0].keys[0].key == doi.lower()
    draft, (linked,) = read("As [a trial](https://doi.org/10.1016/S0140-6736(05)12345-6) showed.")
    assert linked.keys[0].key == "10.1016/s0140-6736(05)12345-6" and linked.setting == "behind"
    assert draft.sentences[0].text == "As a trial showed."


def test_a_link_keeps_its_words_unless_they_are_the_address_or_a_number_alone() -> None:
    for text, setting, words in (
        ("As [a trial](https://doi.org/10.5555/a) showed.", "behind", "As a trial showed."),
        ("As [Oak (2021)](https://doi.org/10.5555/a) showed.", "nowhere", "As Oak (2021) showed."),
        ("It grows [1](https://doi.org/10.5555/a).", "here", "It grows."),
        ("It grows [10.5555/a](https://doi.org/10.5555/a).", "here", "It grows."),
    ):
        draft, (cited,) = read(text)
        assert (cited.setting, draft.sentences[0].text) == (setting, words)
    assert read("As [a page](https://example.org/10.5555/a) says.")[1] == []


def test_what_names_its_source_itself_stays_as_typed() -> None:
    draft, (cited,) = read("It grows (Oak 2021, https://doi.org/10.5555/a).")
    assert cited.setting == "nowhere" and draft.sentences[0].text == "It grows (Oak 2021)."
    entry = "- Oak O (2021). Curls. https://doi.org/10.5555/b"
    listed = f"It grows (10.5555/a).\n\n## Sources\n\n{entry}\n\n## Notes\n\n10.5555/c\n"
    assert [c.setting for c in read(listed)[1]] == ["here", "nowhere", "here"]


def test_a_block_of_addresses_alone_is_read_though_it_holds_no_words() -> None:
    draft, cited = read("- https://doi.org/10.5555/a\n- 10.5555/b\n")
    assert [s.text for s in draft.sentences] == ["", ""]
    assert [c for s in draft.sentences for c in s.citations] == cited and len(cited) == 2


def test_code_comments_and_addresses_of_other_places_cite_nothing() -> None:
    for text in ("`10.5555/a` x", "<!-- 10.5555/a --> x", "10.5 / 3 reps"):
        assert read(text)[1] == []
    assert read("See https://example.org/doi/10.5555/a there.")[1] == []


def test_a_doi_may_be_typed_as_a_key() -> None:
    _, cited = read("More [@https://doi.org/10.5555/a; @10.5555/b]. As @https://doi.org/10.5555/c says.")
    assert [k.key for c in cited for k in c.keys] == [
        "https://doi.org/10.5555/a", "10.5555/b", "https://doi.org/10.5555/c",
    ]  # fmt: skip


def test_an_address_is_dots_of_the_same_length_and_the_sentence_around_it_stays() -> None:
    text = "See https://example.org/12%-more, or www.example.org/2."
    assert without_addresses(text) == "See ····························, or ·················."
    assert without_addresses("no address: 12 %") == "no address: 12 %"


def test_a_doi_on_each_line_is_a_citation_in_its_own_place() -> None:
    draft = read_draft_text(
        "https://doi.org/10.5555/a\n10.5555/b\n\nIt grew (10.5555/c;\n10.5555/d).\n", "markdown"
    )
    found = [c for s in draft.sentences for c in s.citations]
    assert [([k.key for k in c.keys], draft.place(c.start).line, c.running) for c in found] == [
        (["10.5555/a"], 1, False),
        (["10.5555/b"], 2, False),
        (["10.5555/c", "10.5555/d"], 4, False),
    ]
