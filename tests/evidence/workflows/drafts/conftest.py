"""The invented catalogue of the drafts cases, as a file and as what is known of it; made once for all tests."""

import importlib.util
import sys
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from types import ModuleType

import pytest

from evidence.catalogue import Catalogue, Location, open_catalogue
from evidence.reading.drafts import read_draft_text
from evidence.workflows.demonstrating import demonstrate
from evidence.workflows.drafts.checking import Checked, check_draft
from evidence.workflows.drafts.knowing import know_catalogue
from evidence.workflows.drafts.knowledge import Knowledge

ROOT = Path(__file__).parents[4]
TODAY = date(2026, 11, 1)


def load(name: str) -> ModuleType:
    path = ROOT / "tests" / "cases" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"cases_{name}", path)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def drafts_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("drafts")
    load("drafts_catalogue").make_catalogue(folder).close()
    return folder / "drafts.sqlite"


@pytest.fixture(scope="session")
def drafts_catalogue(drafts_file: Path) -> Iterator[Catalogue]:
    with open_catalogue(Location(path=drafts_file)) as catalogue:
        yield catalogue


@pytest.fixture(scope="session")
def knowledge(drafts_catalogue: Catalogue) -> Knowledge:
    return know_catalogue(drafts_catalogue, TODAY)


@pytest.fixture
def own_catalogue(drafts_file: Path, tmp_path: Path) -> Iterator[Catalogue]:
    """A copy that a test may change."""
    path = tmp_path / "own.sqlite"
    path.write_bytes(drafts_file.read_bytes())
    with open_catalogue(Location(path=path)) as catalogue:
        yield catalogue


@pytest.fixture(scope="session")
def demonstrated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Knowledge]:
    """What the catalogue of the demonstration knows: people recruited and analysed, claims."""
    made = demonstrate(tmp_path_factory.mktemp("demonstration") / "demo", lambda text: None)
    with open_catalogue(Location(path=made.catalogue)) as catalogue:
        yield know_catalogue(catalogue)


@pytest.fixture
def check_demo(demonstrated: Knowledge) -> Callable[..., Checked]:
    def run(text: str, audience: str | None = None) -> Checked:
        return check_draft(read_draft_text(text, "markdown", "draft.md"), demonstrated, audience)

    return run


@pytest.fixture
def check(knowledge: Knowledge) -> Callable[..., Checked]:
    def run(text: str, format: str = "markdown", audience: str | None = None) -> Checked:
        return check_draft(read_draft_text(text, format, f"draft.{format}"), knowledge, audience)

    return run
