"""The case files, run by the runner that anyone can run: python tests/cases/check.py FILE..."""

import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def run(*files: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(HERE / "check.py"), *(str(HERE / f) for f in files)],
        capture_output=True,
        text=True,
    )


@pytest.mark.parametrize(
    "file",
    [
        "programmes.yaml",
        "programmes_own.yaml",
        "bibliography.yaml",
        "bibliography_own.yaml",
        "mentions.yaml",
        "mentions_own.yaml",
    ],
)
def test_every_case_of_a_file_passes(file: str) -> None:
    done = run(file)
    assert done.returncode == 0, done.stdout[-4000:]
    assert ", 0 failed" in done.stdout


def test_a_file_of_no_known_kind_is_said_to_be_so(tmp_path: Path) -> None:
    path = tmp_path / "strange.yaml"
    path.write_text("a: 1\n", "utf-8")
    done = subprocess.run([sys.executable, str(HERE / "check.py"), str(path)], capture_output=True, text=True)
    assert done.returncode != 0
    assert "Traceback" not in done.stdout + done.stderr
