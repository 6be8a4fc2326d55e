"""What the packages offer to others is named, found, and described; a change of it is a decision, not an accident."""

import ast
import importlib
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted([*ROOT.glob("evidence/**/*.py"), *ROOT.glob("references/**/*.py")])

OFFERED = {
    "references": {
        "KnownRecords", "Name", "PartialDate", "Problem", "ReadReport", "Record", "ReferencesError", "compare_with",
        "find_duplicates", "find_notices", "format_bibliography", "judge_state", "match_mention", "merge",
        "read_bytes", "read_folder", "read_path", "short_citation",
    },
    "evidence.catalogue": {
        "Catalogue", "Location", "Session", "create_catalogue", "locate_catalogue", "open_catalogue",
    },
    "evidence.vocabulary": {
        "Candidate", "Caution", "Construct", "DefaultCorrelation", "Design", "Exercise", "Instrument", "Lookup",
        "Margin", "OwnName", "Region", "TrainingStatus", "Unit", "Vocabulary", "load_vocabulary", "read_exercise",
    },
}  # fmt: skip
ERRORS = {
    "Ambiguous", "BadInput", "CatalogueDamaged", "CatalogueLocked", "CatalogueNewer", "CatalogueProblem", "NotFound",
    "NumberProblem", "SteelyardError", "StorageFull",
}  # fmt: skip


@pytest.mark.parametrize("package", OFFERED)
def test_a_package_offers_exactly_these_names_and_each_is_there(package: str) -> None:
    module = importlib.import_module(package)
    assert set(module.__all__) == OFFERED[package]
    for name in module.__all__:
        assert getattr(module, name) is not None


def test_the_error_tree_is_the_one_that_its_page_draws() -> None:
    errors = importlib.import_module("evidence.errors")
    defined = {
        name
        for name, item in vars(errors).items()
        if isinstance(item, type) and item.__module__ == errors.__name__
    }
    assert defined == ERRORS
    assert all(name in (errors.__doc__ or "") for name in ERRORS)
    assert all(issubclass(getattr(errors, name), errors.SteelyardError) for name in ERRORS)


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_modules_and_public_names_say_what_they_are(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    if "versions" in path.parts:
        return
    assert ast.get_docstring(tree), f"{path} does not say what it is for"
    silent = [
        node.name
        for node in tree.body
        if isinstance(node, (ast.FunctionDef, ast.ClassDef))
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert not silent, f"{path}: without a docstring: {silent}"


def test_every_data_file_of_the_packages_is_shipped() -> None:
    shipped = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"][
        "package-data"
    ]["*"]
    for package in ("evidence", "references"):
        for path in (ROOT / package).rglob("*"):
            if path.is_file() and path.suffix not in (".py", ".pyc"):
                assert any(path.match(pattern) for pattern in shipped), (
                    f"{path} would be missing from an installation"
                )


def test_every_library_that_is_imported_is_declared() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    declared = {
        name.split("[")[0].split(">")[0].split("<")[0].split("=")[0].strip().lower().replace("-", "_")
        for name in [
            *project["dependencies"],
            *(name for extra in ("styles", "online") for name in project["optional-dependencies"][extra]),
        ]
    }
    names = {
        "yaml": "pyyaml",
        "pypandoc": "pypandoc_binary",
        "sqlalchemy": "sqlmodel",
        "markupsafe": "jinja2",
        "docx": "python_docx",
        "markdown_it": "markdown_it_py",
    }
    standard = importlib.import_module("sys").stdlib_module_names
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            modules = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            modules += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            for module in modules:
                top = module.split(".")[0]
                if top not in standard and top not in ("evidence", "references"):
                    assert names.get(top, top) in declared, (
                        f"{path} imports {top}, which no dependency declares"
                    )
