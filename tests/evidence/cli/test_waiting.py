"""A command that takes long says so on a terminal, and leaves nothing of it behind; elsewhere it says nothing."""

import io
import sys
import time

import pytest

from evidence.cli import frame, waiting


class Screen(io.StringIO):
    """What a terminal was sent."""

    def isatty(self) -> bool:
        return True


def put_up(screen: io.StringIO, monkeypatch: pytest.MonkeyPatch, patience: float = 0.0) -> None:
    """Have standard error shown on a screen. In the test itself: pytest puts its own in place of what a fixture set."""
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(waiting, "PATIENCE", patience)
    monkeypatch.setattr(waiting, "EVERY", 0.01)


def wait_for(screen: Screen, text: str) -> None:
    end = time.monotonic() + 10
    while text not in screen.getvalue():
        assert time.monotonic() < end, screen.getvalue()
        time.sleep(0.01)


def lines_left(text: str) -> str:
    """What still stands after each carriage return wrote over the line, at its end."""
    line = ""
    for piece in text.split("\r"):
        line = piece + line[len(piece) :]
    return line.strip()


def test_what_is_done_is_told_while_it_lasts_and_is_gone_afterwards(monkeypatch: pytest.MonkeyPatch) -> None:
    put_up(screen := Screen(), monkeypatch)

    @frame.tells_problems
    def command() -> None:
        wait_for(screen, "Still working")
        waiting.waiting.say("Weighing claims: 20 of 300")
        wait_for(screen, "20 of 300")
        frame.warn("A note.")

    command()
    assert "A note.\n" in screen.getvalue()
    assert lines_left(screen.getvalue().rpartition("\n")[2]) == ""
    before = screen.getvalue()
    time.sleep(0.05)
    assert screen.getvalue() == before


def test_what_is_done_soon_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    put_up(screen := Screen(), monkeypatch, patience=60.0)

    @frame.tells_problems
    def command() -> None:
        time.sleep(0.05)

    command()
    assert screen.getvalue() == ""


def test_where_nobody_looks_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    put_up(shown := io.StringIO(), monkeypatch)

    @frame.tells_problems
    def command() -> None:
        time.sleep(0.1)

    command()
    assert shown.getvalue() == ""
