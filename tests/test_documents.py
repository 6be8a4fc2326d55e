"""Every example in the documents is run: files are written, commands executed, output compared.

In a document, a line "File `NAME`:" (or `<!-- file: NAME -->`) before a fenced block writes that block to NAME; a
fenced `console` block holds commands after `$ ` and, below each, what they print. A line of `...` stands for any
lines. `# exit N` after a command says that it ends with that status.
"""

import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
DOCUMENTS = sorted([ROOT / "README.md", *ROOT.glob("docs/**/*.md")])
FENCE = re.compile(
    r"(?:(?:<!-- file: |^File `)(?P<file>[^\s`]+)(?: -->|`:\n)\n)?^```(?P<kind>[\w-]*)\n(?P<body>.*?)^```$",
    re.MULTILINE | re.DOTALL,
)


@dataclass(frozen=True)
class Command:
    line: str
    status: int
    expected: str


def read_commands(block: str) -> list[Command]:
    found: list[Command] = []
    for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
        line, _, output = part.partition("\n")
        while line.endswith("\\"):
            more, _, output = output.partition("\n")
            line = line[:-1] + more.lstrip("> ")
        status = re.search(r"\s+# exit (\d+)$", line)
        found.append(
            Command(line[: status.start()] if status else line, int(status[1]) if status else 0, output)
        )
    return found


def fits(expected: str, got: str) -> bool:
    """Whether `got` is `expected`: a line of dots stands for any lines, dots in a line for any text there."""
    tidy = ["\n".join(x.rstrip() for x in text.strip("\n").splitlines()) for text in (expected, got)]
    blocks = re.split(r"^\.\.\.$", tidy[0], flags=re.MULTILINE)
    parts = [re.escape(block.strip("\n")).replace(r"\.\.\.", r"[^\n]*") for block in blocks]
    return re.fullmatch(r"\n*.*?\n*".join(parts), tidy[1], flags=re.DOTALL) is not None


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_what_a_document_shows_is_what_happens(document: Path, tmp_path: Path) -> None:
    environment = {
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "HOME": str(tmp_path / "home"),
        "STEELYARD_WHO": "Sam",
        "COLUMNS": "80",
        "PYTHONIOENCODING": "utf-8",
        "LANG": "C.UTF-8",
    }
    for block in FENCE.finditer(document.read_text("utf-8")):
        if block["file"]:
            (tmp_path / block["file"]).write_text(block["body"], "utf-8")
        if block["kind"] != "console":
            continue
        for command in read_commands(block["body"]):
            done = subprocess.run(
                ["bash", "-c", command.line],
                cwd=tmp_path,
                env=environment,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,  # in the order in which a terminal shows them
                text=True,
                timeout=120,
            )
            shown = done.stdout
            assert done.returncode == command.status, f"{document.name}: $ {command.line}\n{shown}"
            assert "Traceback" not in shown
            assert fits(command.expected, shown), (
                f"{document.name}: $ {command.line}\n--- in the document\n{command.expected}\n--- printed\n{shown}"
            )


def test_the_generated_reference_is_what_code_and_data_say_of_themselves() -> None:
    import importlib.util

    spec = importlib.util.spec_from_file_location("generate", ROOT / "docs" / "generate.py")
    assert spec and spec.loader
    generate = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(generate)
    for name, render in generate.PAGES.items():
        page = (ROOT / "docs" / "reference" / name).read_text("utf-8")
        assert page == render(), f"{name} is out of step; run: python docs/generate.py"
