"""Properties of every reader: nothing is lost, nothing crashes, each key is given once."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from references.errors import Severity, Unreadable
from references.reading import ReadReport, open_path, read_bytes
from references.record import Record

ENTRIES = {
    "bibtex": (
        "@article{{k{n}, author = {{Ek, Ulf}}, title = {{Title {n}}}, year = 2001}}\n",
        '@book{{<i>k{n}</i>, title = "Quoted {n}",\n  year = {{1999}}}}\n',
        "@article{{../k{n}, title = {{Path {n}}}, year = 2001}}\n",
        "@misc{{same, title = {{Same key {n}}}}}\n",
    ),
    "ris": (
        "TY  - JOUR\nTI  - Title {n}\nAU  - Ek, Ulf\nER  - \n",
        "TY  - BOOK\nTI  - No end {n}\nPY  - 1999\n",
        "ty  - JOUR\nti  - Small {n}\ner  - \n",
    ),
    "medline": (
        "PMID- 10{n}\nTI  - Title {n}\n      goes on.\nAU  - Ek U\n\n",
        "PMID- 20{n}\nTI  - Together {n}\nDP  - 2001\n",
    ),
}
NOISE = (
    "\n",
    "some words\n",
    "1.\n",
    "@\n",
    "}}\n",
    "ER  - \n",
    "%\n",
    "&amp; <b>x</b>\n",
    "\x00\n",
    "é\u202e\n",
)


def readable(data: bytes) -> ReadReport | None:
    try:
        return read_bytes(data, name="x")
    except Unreadable:
        return None


@pytest.mark.parametrize("kind", sorted(ENTRIES))
@settings(max_examples=60)
@given(data=st.data())
def test_every_line_comes_out_in_a_record_or_a_problem(kind: str, data: st.DataObject) -> None:
    pieces = data.draw(st.lists(st.sampled_from([*ENTRIES[kind], *NOISE]), min_size=1, max_size=8))
    text = "".join(
        piece.replace("{n}", str(n)).replace("{{", "{").replace("}}", "}") for n, piece in enumerate(pieces)
    )
    report = readable(text.encode())
    if report is None:
        return
    kept = "\n".join(
        [record.raw or "" for record in report.records] + [p.text or "" for p in report.problems]
    )
    for line in text.split("\n"):
        if any(character.isalnum() for character in line):
            assert line.strip() in kept, (line, text, [str(p) for p in report.problems])


@settings(max_examples=150)
@given(data=st.data())
def test_damage_anywhere_crashes_nothing_and_keys_stay_unique(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(sorted(ENTRIES)))
    parts = [entry.format(n=n) for n, entry in enumerate(ENTRIES[kind])]
    whole = bytearray("".join(parts).encode())
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(whole)))
        cut = data.draw(st.integers(0, 12))
        whole[at : at + cut] = data.draw(st.binary(max_size=6))
    report = readable(bytes(whole))
    if report is not None:
        assert len({record.key for record in report.records}) == len(report.records)
        for record in report.records:
            assert Record.from_csl(record.to_csl()).to_csl() == record.to_csl()


@settings(max_examples=80)
@given(
    st.lists(
        st.dictionaries(
            st.sampled_from(["id", "title", "type", "author", "issued", "DOI"]),
            st.recursive(
                st.none() | st.booleans() | st.integers() | st.text(max_size=8),
                lambda inner: (
                    st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
                ),
                max_leaves=6,
            ),
        ),
        max_size=4,
    ),
    st.integers(0, 200),
)
def test_any_json_is_read_or_told_item_by_item(items: list[dict[str, object]], cut: int) -> None:
    text = json.dumps(items)
    for given_text in (text, text[: max(0, len(text) - cut)]):
        report = readable(given_text.encode())
        if report is not None and given_text == text:
            errors = sum(problem.severity is Severity.ERROR for problem in report.problems)
            assert len(report.records) + errors >= len(items)


@pytest.mark.parametrize("one_line", [True, False])
def test_a_long_json_list_is_read_piece_by_piece(one_line: bool) -> None:
    items = [{"id": f"k{n}", "type": "book", "title": "t" * 200} for n in range(2000)]
    text = json.dumps(items) if one_line else json.dumps(items, indent=1)
    report = read_bytes(text.encode(), name="x")
    assert [record.key for record in report.records] == [f"k{n}" for n in range(2000)]
    assert report.problems == ()


def test_a_break_in_the_middle_of_pubmed_xml_costs_one_article_only() -> None:
    article = (
        "<PubmedArticle><MedlineCitation><PMID>{}</PMID><Article><ArticleTitle>T{}.</ArticleTitle></Article>"
        "</MedlineCitation></PubmedArticle>\n"
    )
    parts = [article.format(n, n) for n in range(1, 6)]
    parts[2] = parts[2].replace("</ArticleTitle>", "")
    report = read_bytes(("<PubmedArticleSet>" + "".join(parts) + "</PubmedArticleSet>").encode(), name="x")
    assert [record.pmid for record in report.records] == ["1", "2", "4", "5"]
    (error,) = [problem for problem in report.problems if problem.severity is Severity.ERROR]
    assert error.text is not None
    assert "<PMID>3</PMID>" in error.text


def test_position_and_lines_are_counted_on_the_way(tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "a.ris"
    path.write_text("TY  - JOUR\nTI  - A\nER  - \n" * 3)
    reading = open_path(path)
    assert sum(isinstance(item, Record) for item in reading.items()) == 3
    assert (reading.lines, reading.starts, reading.position) == (9, 3, path.stat().st_size)
