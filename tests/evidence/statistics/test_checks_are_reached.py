"""No check stands idle: each is run by another room, or is told to be a function of the library alone."""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[3] / "evidence"
# Functions of the library (docs/explanation/checks.md says so): they need what no catalogue and no printed line holds.
LIBRARY = {
    "check_counted_once", "check_direction", "check_marked_pair", "check_ratio_of_means", "check_same_figure",
    "check_test_against_design", "check_two_spreads", "check_within_group_only",
}  # fmt: skip


def names_in(path: Path) -> set[str]:
    nodes = list(ast.walk(ast.parse(path.read_text("utf-8"))))
    plain = {node.id for node in nodes if isinstance(node, ast.Name)}
    return plain | {node.attr for node in nodes if isinstance(node, ast.Attribute)}


def test_every_check_is_run_somewhere_or_told_to_be_of_the_library_alone() -> None:
    used = set().union(*(names_in(path) for path in ROOT.rglob("*.py")))
    checks = {
        node.name
        for path in (ROOT / "statistics").glob("*.py")
        for node in ast.parse(path.read_text("utf-8")).body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("check_")
    }
    assert checks - used == LIBRARY, "run it, or say where it is for"
