"""Help pages: every command says in one short sentence what it does, and shows an example that runs."""

import shlex
import shutil
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command
from typer.testing import CliRunner

from evidence.cli.help_pages import name_values
from evidence.cli.main import app, hoisted

NEVER_ENDING = {"steelyard serve", "steelyard demo"}  # it waits for Ctrl+C; it is run by tests of its own


def walk(command: Any, path: str) -> Iterator[tuple[str, Any]]:
    yield path, command
    for name, below in getattr(command, "commands", {}).items():
        yield from walk(below, f"{path} {name}")


COMMANDS = dict(walk(name_values(get_command(app)), "steelyard"))
ENDS = {path: command for path, command in COMMANDS.items() if not hasattr(command, "commands")}
EXAMPLES = [
    (path, line.removeprefix("Example: "))
    for path, command in ENDS.items()
    if path not in NEVER_ENDING
    for line in command.help.splitlines()
    if line.startswith("Example: ")
]
ARTICLE = (
    "# [Invented] Hamstrings\n\nSeated curls grow the hamstrings more than lying curls [@barbell2020].\n"
)
MADE = {
    "article.md": ARTICLE,
    "hamstrings.md": ARTICLE,
    "video.vtt": "WEBVTT\n\n00:01.000 --> 00:04.000\nSeated curls worked the hamstrings more (Anvil et al. 2019).\n",
    "effects.csv": "study,yi,se\n[Invented] A,0.4,0.2\n[Invented] B,0.1,0.25\n[Invented] C,0.3,0.2\n",
    "again.bib": "@article{anvil2019a, author={Anvil, A.}, year=2020, journal={Journal of Invented Strength},\n"
    "title={[Invented] Seated and lying leg curls: surface EMG of the hamstrings in trained lifters}}\n",
    "data.csv": "subject,condition,post\n"
    + "".join(f"{n},swing,{60 + 3 * n}\n{n},morning,{52 + 2 * n + n % 2}\n" for n in range(1, 8)),
    "table2.csv": ",Nordic curl,Lying leg curl\nBiceps femoris,82.4 ± 21.3,71.6 ± 19.5\n",
}
# What must have happened before an example makes sense, by its command.
BEFORE = {
    "steelyard restore": ["steelyard backup catalogue-2026-11.backup"],
    "steelyard import": ["steelyard export my-catalogue"],
    "steelyard refs merge": ["steelyard refs add again.bib"],
    "steelyard study settle": [
        f"steelyard study judge rack-2016 --choose measurement={word} --because 'p. 4' --who {who}"
        for who, word in (("Sam", "low"), ("Kim", "high"))
    ],
    "steelyard claim settle": [
        f"steelyard claim rate seated-curl-growth imprecision {word} --because 'few people' --who {who}"
        for who, word in (("Sam", "serious"), ("Kim", "0"))
    ],
    "steelyard claim unlink": [
        "steelyard claim link seated-curl-growth rack2016 --stance against --says 'no difference'"
    ],
}


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration, and what the examples name beside it."""
    from evidence.workflows.demonstrating import demonstrate

    folder = tmp_path_factory.mktemp("examples")
    made = demonstrate(folder / "demo", lambda text: None)
    shutil.copy(made.catalogue, folder / "catalogue.sqlite")
    shutil.rmtree(folder / "demo")
    data = Path(str(files("evidence.workflows") / "demo_data"))
    shutil.copy(data / "references.bib", folder / "library.bib")
    shutil.copy(data / "notices.csv", folder / "retractions.csv")
    shutil.copy(data / "pasted_table.txt", folder / "table.txt")
    shutil.copy(data / "programme.yaml", folder / "plan.yaml")
    shutil.copy(data / "claims.yaml", folder / "claims.yaml")
    shutil.copy(data / "studies" / "anvil-2019.yaml", folder / "anvil-2019.yaml")
    for name, text in MADE.items():
        (folder / name).write_text(text, "utf-8")
    return folder


def invoke(folder: Path, line: str) -> Any:
    """Run a command line of an example in the folder, with what stands behind < as its input."""
    words = shlex.split(line)
    given = None
    if ">" in words:
        words = words[: words.index(">")]
    if "<" in words:
        given = (folder / words[words.index("<") + 1]).read_text("utf-8")
        words = words[: words.index("<")]
    surroundings = {"STEELYARD_CATALOGUE": str(folder / "catalogue.sqlite"), "STEELYARD_WHO": "Sam"}
    return CliRunner().invoke(app, hoisted(words[1:]), input=given, env=surroundings)


@pytest.mark.parametrize(("path", "line"), EXAMPLES, ids=[line for _, line in EXAMPLES])
def test_the_example_of_a_command_runs_on_the_demonstration(
    prepared: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str, line: str
) -> None:
    folder = tmp_path / "here"
    shutil.copytree(prepared, folder)
    monkeypatch.chdir(folder)
    assert line.startswith(path) or "--catalogue" in line
    if path == "steelyard init":
        (folder / "catalogue.sqlite").unlink()
    for earlier in BEFORE.get(path, ()):
        assert invoke(folder, earlier).exit_code in (0, 1), earlier
    done = invoke(folder, line)
    assert done.exit_code in (0, 1), done.output
    assert "Traceback" not in done.output and (done.exception is None or done.exit_code == 1)


@pytest.mark.parametrize("path", COMMANDS)
def test_a_list_of_commands_says_what_each_does_without_breaking_off(path: str) -> None:
    below = getattr(COMMANDS[path], "commands", {})
    widest = max((len(name) for name in below), default=0)
    short = {name: one.get_short_help_str(80 - 6 - widest) for name, one in below.items()}
    assert not {name: text for name, text in short.items() if text.endswith("...") or not text}


@pytest.mark.parametrize("path", ENDS)
def test_a_command_shows_an_example_and_names_what_is_typed_in_words(
    path: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        COMMANDS[path].main(["--help"], prog_name=path)
    page = capsys.readouterr().out
    assert "Example: steelyard" in page
    assert not [kind for kind in ("str", "int", "float", "path", "list") if f"<{kind}" in page]
    assert "{" not in page.partition("\n")[0]
