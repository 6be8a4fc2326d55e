"""Run case files: `python tests/cases/check.py [--quiet] [--case ID] FILE...`

A case file is YAML, JSON or CSV. Each module in `evaluators/` says by `matches(document) -> bool` whether it
knows the file's shape and yields one `CaseOutcome` per case from `evaluate(document)`. Printed: per file
`N passed, N failed` with each difference, and, where items are counted (cells of tables), per case and over
all `right R / asked A / wrong W`.
Exit status: 0 all passed; 1 a case failed; 2 a file cannot be read or no evaluator knows it.
"""

from __future__ import annotations

import argparse
import csv
import importlib.util
import json
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

import yaml

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from outcome import CaseOutcome  # noqa: E402  (found beside this file, which is run by path)

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def load_document(path: Path) -> Any:
    """Read a case file. Raises OSError, yaml.YAMLError, ValueError."""
    text = path.read_text(encoding="utf-8-sig")
    if path.suffix == ".csv":
        return list(csv.DictReader(text.splitlines()))
    if path.suffix == ".json":
        return json.loads(text)
    return yaml.load(text, Loader=_Loader)  # a safe loader


def find_evaluators(folder: Path = HERE / "evaluators") -> list[ModuleType]:
    """Load every evaluator module by its path, in name order."""
    modules = []
    for path in sorted(folder.glob("*.py")):
        spec = importlib.util.spec_from_file_location(f"case_evaluator_{path.stem}", path)
        if spec is None or spec.loader is None:
            continue
        module = importlib.util.module_from_spec(spec)
        sys.modules[spec.name] = module
        spec.loader.exec_module(module)
        if hasattr(module, "matches") and hasattr(module, "evaluate"):
            modules.append(module)
    return modules


def describe_counts(outcomes: Iterable[CaseOutcome]) -> str:
    """`right R / asked A / wrong W` over some outcomes."""
    kept = list(outcomes)
    right, asked, wrong = (sum(getattr(o, name) for o in kept) for name in ("right", "asked", "wrong"))
    return f"right {right} / asked {asked} / wrong {wrong}"


def report_file(path: Path, outcomes: Sequence[CaseOutcome], *, quiet: bool) -> None:
    """Print what one file's cases came to."""
    passed = sum(o.passed for o in outcomes)
    print(f"{path.name}: {passed} passed, {len(outcomes) - passed} failed")
    for outcome in outcomes:
        counts = f"  {describe_counts([outcome])}" if outcome.counted else ""
        if not quiet or not outcome.passed:
            print(f"  {'passed' if outcome.passed else 'FAILED'}  {outcome.case}{counts}")
            if outcome.error:
                print(f"      error: {outcome.error}")
            if not quiet:
                for difference in outcome.differences:
                    print(f"      {difference}")
    if any(o.counted for o in outcomes):
        print(f"  all cells: {describe_counts(outcomes)}")


def check_file(path: Path, evaluators: Sequence[ModuleType], *, quiet: bool, case: str | None) -> int:
    """Evaluate one file and print its report; returns its exit status."""
    try:
        document = load_document(path)
    except (OSError, ValueError, yaml.YAMLError) as problem:
        print(f"{path.name}: cannot be read: {problem}")
        return 2
    known = [module for module in evaluators if module.matches(document)]
    if not known:
        print(f"{path.name}: no evaluator knows this shape of file")
        return 2
    outcomes = [outcome for module in known for outcome in module.evaluate(document)]
    if case is not None:
        outcomes = [outcome for outcome in outcomes if outcome.case == case]
    if not outcomes:
        print(f"{path.name}: no cases to run")
        return 2
    report_file(path, outcomes, quiet=quiet)
    return 0 if all(outcome.passed for outcome in outcomes) else 1


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Run case files against the product.")
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    parser.add_argument("--quiet", action="store_true", help="print failed cases only, without differences")
    parser.add_argument("--case", help="run and show one case only")
    chosen = parser.parse_args(arguments)
    evaluators = find_evaluators()
    statuses = [check_file(path, evaluators, quiet=chosen.quiet, case=chosen.case) for path in chosen.files]
    return max(statuses)


if __name__ == "__main__":
    sys.exit(main())
