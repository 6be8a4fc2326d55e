"""What is typed wrongly is told in our words: what is missing or unknown, an example, and where to read on."""

from typing import Any

import pytest
from typer.main import get_command

from evidence.cli.help_pages import name_values
from evidence.cli.main import app
from evidence.cli.slips import in_plain_ranges


@pytest.fixture(scope="module")
def command() -> Any:
    return name_values(get_command(app))


def told(command: Any, typed: list[str], capsys: pytest.CaptureFixture[str]) -> list[str]:
    """The lines on standard error; nothing stands on standard output, and the exit status is 2."""
    with pytest.raises(SystemExit) as left:
        command(args=typed, prog_name="steelyard")
    out, err = capsys.readouterr()
    assert (left.value.code, out) == (2, "")
    return err.splitlines()


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        ("study load", "steelyard study load needs FILES: "),
        ("weigh", "steelyard weigh needs KEY: Key of the claim."),
        ("rank hamstrings", "steelyard rank needs --outcome TEXT: activation, growth, strength, ..."),
        ("rank hamstrings --outcome", "steelyard rank: what should --outcome be? Nothing stands after it."),
        ("history --moist 3", "steelyard history has no option --moist. Perhaps --most?"),
        ("history --most many", "--most NUMBER: it should be a whole number."),
        ("weigh seated growth", "steelyard weigh does not know what to do with: growth. Words with spaces"),
    ],
)
def test_a_slip_is_told_with_an_example_and_where_to_read_on(
    command: Any, capsys: pytest.CaptureFixture[str], typed: str, problem: str
) -> None:
    lines = told(command, typed.split(), capsys)
    name = "steelyard " + ("study load" if typed.startswith("study") else typed.split()[0])
    assert lines[0].startswith(f"Problem: {problem}")
    assert lines[1].startswith(f"Example: {name}")
    assert lines[2:] == [f"All of it: {name} --help"]


def test_an_unknown_command_is_told_with_those_there_are_or_the_near_ones(
    command: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    few = told(command, ["publish", "poem"], capsys)
    assert (
        few[0]
        == "Problem: steelyard publish has no command 'poem'. There are: article, sources, handout, answer."
    )
    near = told(command, ["chek"], capsys)
    assert near == ["Problem: steelyard has no command 'chek'. Perhaps check?", "All of it: steelyard --help"]


@pytest.mark.parametrize(
    ("library", "ours"),
    [
        ("[default: 20; 1<=x<=1000]", "[default: 20; 1 to 1000]"),
        ("[0<=x<=0.5]", "[0 to 0.5]"), ("[x>=1]", "[1 or more]"),
        ("0 is not in the range x>=1.", "0 is not in the range 1 or more."),
        ("[x<=9]", "[9 or less]"), ("p <0.001", "p <0.001"),
    ],
)  # fmt: skip
def test_ranges_are_told_as_one_says_them(library: str, ours: str) -> None:
    assert in_plain_ranges(library) == ours


def test_no_help_page_holds_a_range_in_signs(command: Any, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        command(args=["serve", "--help"], prog_name="steelyard")
    page = capsys.readouterr().out
    assert "0 to 65535" in page and "<=x" not in page
