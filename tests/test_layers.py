"""Imports point one way: the rooms of DEVELOPERS.md, read from the code itself."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

# room -> rooms it may import (itself aside)
ALLOWED = {
    "references": set(),
    "evidence.errors": set(),
    "evidence.vocabulary": {"evidence.errors"},
    "evidence.statistics": {"evidence.errors", "evidence.vocabulary"},
    "evidence.appraisal": {"evidence.errors", "evidence.vocabulary", "evidence.statistics"},
    "evidence.reading": {"evidence.errors", "evidence.vocabulary", "references"},
    "evidence.catalogue": {"evidence.errors", "evidence.vocabulary", "references"},
    "evidence.publishing": {
        "evidence.errors",
        "evidence.vocabulary",
        "evidence.statistics",
        "evidence.appraisal",
        "evidence.reading",
        "references",
    },
    "evidence.workflows": {
        "evidence.errors",
        "evidence.vocabulary",
        "evidence.statistics",
        "evidence.appraisal",
        "evidence.reading",
        "evidence.catalogue",
        "evidence.publishing",
        "references",
    },
    "evidence.cli": {
        "evidence.errors",
        "evidence.vocabulary",
        "evidence.workflows",
        "evidence.publishing",
        "evidence.web",  # `steelyard serve` starts it
    },
    "evidence.web": {"evidence.errors", "evidence.vocabulary", "evidence.workflows", "evidence.publishing"},
}
# The steps of the work: each imports only from steps before it. Modules of `workflows/` itself come first or, as the
# demonstration does, last.
STEPS = [
    "opening",
    "naming",
    "making",
    "effects",
    "relevance",
    "calculator",
    "gather",
    "judge",
    "weigh",
    "claims",
    "extract",
    "trace",
    "rank",
    "upkeep",
    "drafts",
    "documents",
    "programmes",
    "pages",
    "demonstrating",
]
FORBIDDEN_LIBRARIES = {
    "evidence.statistics": {"sqlmodel", "sqlalchemy", "typer", "pathlib", "io", "os"},
    "evidence.appraisal": {"sqlmodel", "sqlalchemy", "typer"},
    "evidence.publishing": {"sqlmodel", "sqlalchemy", "typer"},
    "evidence.reading": {"sqlmodel", "sqlalchemy", "typer"},
    "evidence.workflows": {"sqlmodel", "sqlalchemy", "typer"},
    "evidence.cli": {"sqlmodel", "sqlalchemy"},
    "evidence.web": {"sqlmodel", "sqlalchemy", "typer"},
    "references": {"sqlmodel", "sqlalchemy", "typer"},
}


def room_of(module: str) -> str | None:
    parts = module.split(".")
    if parts[0] == "references":
        return "references"
    if parts[0] == "evidence" and len(parts) > 1:
        return ".".join(parts[:2])
    return None


def modules() -> list[Path]:
    return sorted([*ROOT.glob("evidence/**/*.py"), *ROOT.glob("references/**/*.py")])


def imported_names(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide the room they reach into"
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(ROOT)))
def test_a_module_imports_only_from_the_rooms_below_it(path: Path) -> None:
    room = room_of(".".join(path.relative_to(ROOT).with_suffix("").parts))
    if room is None or room == "evidence.__init__":
        return
    assert room in ALLOWED, f"{path} stands in a room that the map does not have"
    names = imported_names(path)
    reached = {r for r in (room_of(name) for name in names) if r in ALLOWED and r != room}
    assert reached <= ALLOWED[room], f"{path} reaches into {sorted(reached - ALLOWED[room])}"
    libraries = {name.split(".")[0] for name in names}
    banned = libraries & FORBIDDEN_LIBRARIES.get(room, set())
    assert not banned, f"{path} imports {sorted(banned)}"


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(ROOT)))
def test_a_module_stays_readable_in_one_sitting(path: Path) -> None:
    lines = len(path.read_text("utf-8").splitlines())
    assert lines <= 400, f"{path} has {lines} lines; split it by subject"


def step_of(module: str) -> str | None:
    parts = module.split(".")
    return parts[2] if parts[:2] == ["evidence", "workflows"] and len(parts) > 2 else None


@pytest.mark.parametrize(
    "path", sorted(ROOT.glob("evidence/workflows/**/*.py")), ids=lambda p: str(p.relative_to(ROOT))
)
def test_a_step_of_the_work_imports_only_from_steps_before_it(path: Path) -> None:
    step = step_of(".".join(path.relative_to(ROOT).with_suffix("").parts))
    if step == "__init__":
        return
    assert step in STEPS, f"{path} stands in a step that the map does not have"
    reached = {s for s in map(step_of, imported_names(path)) if s is not None and s != step}
    assert reached <= set(STEPS[: STEPS.index(step)]), f"{path} reaches ahead"
