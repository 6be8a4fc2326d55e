"""The documentation is built without a warning, and no link of it is dead; a fault of either kind is told."""

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

# What the generator and its extension warn each other of is no fault of the documentation.
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::PendingDeprecationWarning")
ROOT = Path(__file__).parents[1]
SOUND = "# A start\n\n## How to\n\n[a page](page.md#a-part)\n"
PAGE = "# A page\n\n## A part\n\n[back](README.md), [outside](https://example.org/x)\n"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "docs" / f"{name}.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def build_small(tmp_path: Path, page: str, start: str = SOUND) -> list[str]:
    """The faults of a documentation of two pages."""
    source = tmp_path / "docs"
    source.mkdir()
    (source / "README.md").write_text(start, "utf-8")
    (source / "page.md").write_text(page, "utf-8")
    faults: list[str] = load("build").build(source, tmp_path / "site", packages=())
    return faults


def test_the_documentation_is_built_by_one_command_without_a_warning_or_a_dead_link(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "docs" / "build.py", tmp_path / "site"],
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "site" / "index.html").is_file()
    assert "sd_from_se" in (
        tmp_path / "site" / "reference" / "python" / "evidence.statistics.conversions.html"
    ).read_text("utf-8")


def test_two_sound_pages_have_no_fault(tmp_path: Path) -> None:
    assert build_small(tmp_path, PAGE) == []


@pytest.mark.parametrize(
    ("page", "told"),
    [
        (PAGE + "\n[gone](nowhere.md)\n", "nowhere.md"),
        (PAGE + "\n[no such part](README.md#not-there)\n", "not-there"),
        (PAGE + "\n```nolanguage\nx\n```\n", "nolanguage"),
        (PAGE + "\n[odd](https://no host/)\n[odder](https:///x)\n", "an address without a host"),
        (PAGE + "\n![](https://example.org/a.png)\n", "fetched from outside"),
        (PAGE + "\n<script src='//example.org/a.js'></script>\n", "fetched from outside"),
    ],
)
def test_a_warning_a_dead_link_and_a_fetch_from_outside_are_faults(
    tmp_path: Path, page: str, told: str
) -> None:
    assert any(told in fault for fault in build_small(tmp_path, page))


def test_a_page_that_the_first_page_does_not_name_is_a_fault(tmp_path: Path) -> None:
    faults = build_small(tmp_path, PAGE, start="# A start\n")
    assert any("page.md" in fault and "toctree" in fault for fault in faults)


def test_dead_links_of_files_read_in_the_repository_are_told(tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text(
        "# A\n\n[b](b.md#part-one), [c](c.md), [d](b.md#part-two), `[code](no.md)`\n\n```text\n[e](no.md)\n```\n",
        "utf-8",
    )
    (tmp_path / "b.md").write_text("# B\n\n## Part *one*\n", "utf-8")
    faults = load("links").check_markdown([tmp_path / "a.md"], tmp_path)
    assert faults == ["a.md: dead link: c.md", "a.md: no such place in the file: b.md#part-two"]


def test_signs_in_a_docstring_mean_themselves_and_its_sections_become_lists() -> None:
    source = (
        '"""Room."""\ndef f(a: int, *b: str) -> int:\n'
        '    """Give a*b|c as `x_y`.\n\n    Args:\n        a: first.\n    """\n'
    )
    page = load("modules").draw_module("room", source)
    assert "def f(a: int, *b: str) -> int" in page
    assert "Give a\\*b\\|c as `x_y`." in page
    assert "**Arguments**" in page and "- `a`: first." in page
