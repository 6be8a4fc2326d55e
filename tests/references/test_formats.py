"""A format of text is one reader and one entry: detection, counting and the report follow. The format is invented."""

from collections.abc import Iterable, Iterator

import pytest

from references.errors import Problem, Unreadable
from references.formats import FORMATS, Format
from references.reading import read_bytes
from references.record import Record

CARDS = b"two cards\n\nCard: k1\nTitle one\nCard: k2\nTitle two\n"


def is_card(line: str) -> bool:
    return line.startswith("Card: ")


def read_cards(lines: Iterable[str]) -> Iterator[Record | Problem]:
    """Cards of two lines each: a key and a title; what stands outside is a problem."""
    key = None
    for line in lines:
        if is_card(line):
            key = line[6:].strip()
        elif key is not None:
            yield Record(key=key, type="document", title=line.strip(), raw=f"Card: {key}\n{line}")
            key = None
        elif line.strip():
            yield Problem("text outside records ignored", text=line)


@pytest.fixture
def cards(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(FORMATS, "cards", Format("cards", "box of cards", is_card, read_cards))


@pytest.mark.usefixtures("cards")
def test_a_new_format_is_recognised_read_and_counted() -> None:
    report = read_bytes(CARDS, name="box")
    assert (report.format, report.starts) == ("cards", 2)
    assert [(record.key, record.title) for record in report.records] == [
        ("k1", "Title one"),
        ("k2", "Title two"),
    ]
    assert [problem.text.strip() for problem in report.problems if problem.text] == ["two cards"]


@pytest.mark.usefixtures("cards")
def test_a_record_that_its_reader_drops_is_told() -> None:
    report = read_bytes(CARDS + b"Card: k3\n", name="box")
    assert any("3 records begin in the file but 2 were read" in str(problem) for problem in report.problems)


@pytest.mark.usefixtures("cards")
def test_what_no_format_fits_is_told_with_every_format_there_is() -> None:
    with pytest.raises(Unreadable, match=r"no BibTeX, .*list of identifiers or box of cards was recognised"):
        read_bytes(b"just a sentence\n", name="box")


def test_without_its_entry_it_is_not_read() -> None:
    with pytest.raises(Unreadable, match="CSL-JSON or list of identifiers was recognised"):
        read_bytes(CARDS, name="box")
