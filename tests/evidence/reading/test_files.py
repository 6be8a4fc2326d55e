"""Files that are not what they say are refused with the place and what to do; usual encodings are read."""

import os
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evidence.errors import BadInput
from evidence.reading.files import decode_input, open_input


def refuse(path: Path, limit: int = 10_000) -> str:
    with pytest.raises(BadInput) as caught:
        open_input(path, limit_bytes=limit)
    assert caught.value.where is not None
    assert str(path) in caught.value.where
    return str(caught.value)


def test_a_missing_file_is_told_with_its_nearest_neighbour(tmp_path: Path) -> None:
    (tmp_path / "lehman.yaml").write_text("x")
    assert "lehman.yaml" in refuse(tmp_path / "lehmann.yaml")


def test_a_folder_an_empty_file_and_a_large_one_are_refused(tmp_path: Path) -> None:
    assert "folder" in refuse(tmp_path)
    empty = tmp_path / "empty.csv"
    empty.write_bytes(b" \n\n")
    assert "empty" in refuse(empty)
    large = tmp_path / "large.csv"
    large.write_bytes(b"a" * 20_000)
    assert "MB" in refuse(large)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "no ordinary file" in refuse(pipe)


@pytest.mark.parametrize(
    ("start", "word"),
    [
        (b"%PDF-1.7\n", "PDF"),
        (b"PK\x03\x04xx", "zip"),
        (b"\x89PNG\r\n", "picture"),
        (b"a,b\n1,\x00\x00\n", "not text"),
    ],
)
def test_binary_content_is_named_for_what_it_is(tmp_path: Path, start: bytes, word: str) -> None:
    file = tmp_path / "table.csv"
    file.write_bytes(start + b"rest")
    assert word in refuse(file)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_usual_encodings_give_the_same_text(tmp_path: Path, encoding: str) -> None:
    file = tmp_path / "table.txt"
    file.write_bytes("Mittelwert 63,2 ± 21,4 – Größe\r\nzweite Zeile".encode(encoding))
    read = open_input(file)
    assert read.text == "Mittelwert 63,2 ± 21,4 – Größe\nzweite Zeile"
    assert read.newline == "\r\n"
    assert read.guessed == (encoding == "cp1252")


def test_a_damaged_encoding_names_the_line() -> None:
    with pytest.raises(BadInput, match="line 2"):
        decode_input(b"\xff\xfea\x00\n\x00\x00\xd8", "x.txt")


def test_a_byte_in_the_middle_of_utf_8_does_not_raise_anything_else() -> None:
    assert decode_input(b"Fruge 2023 " + b"\xe9\n", "x.txt").text == "Fruge 2023 é\n"


@given(st.binary(max_size=300))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_read_or_refused_plainly(data: bytes) -> None:
    with suppress(BadInput):
        assert "\r" not in decode_input(data, "x").text
