"""Run check files of the oracle schema against the product: `python tests/oracles/check.py FILE...`

Each file is JSON: {"file": subject, "cases": [{"id", "variant", "inputs", "expected", "tolerance", ...}]}
with tolerance {"rel", "abs"}. `evaluators/<subject>.py` answers it: `compute(case)` returns a mapping with at
least the keys in `expected`. A value agrees when |got − expected| <= abs + rel·|expected|; null means "not
defined"; keys beginning with "_" are information only. Paths of CSV files in `inputs` are taken relative to
the folder of the JSON. Exit status 1 when anything fails.
"""

import argparse
import importlib.util
import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

HERE = Path(__file__).parent
Compute = Callable[[Mapping[str, Any]], Mapping[str, Any]]


def load_module(path: Path) -> ModuleType:
    """Import one file by its path, so that neither names nor the import path of the tests matter."""
    name = f"oracle_{path.stem}"
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None:
        raise ImportError(f"cannot import {path}")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


outcome = load_module(HERE / "outcome.py")


@dataclass(frozen=True, slots=True)
class FileReport:
    """All outcomes of one check file."""

    path: Path
    outcomes: tuple[Any, ...]

    @property
    def passed(self) -> int:
        return sum(result.passed for result in self.outcomes)

    @property
    def failed(self) -> int:
        return len(self.outcomes) - self.passed

    def lines(self) -> list[str]:
        """The summary line, then each failure with expected, got and tolerance."""
        text = [f"{self.path.name}: {self.passed} passed, {self.failed} failed"]
        for result in self.outcomes:
            text += [f"  {result.case}: {deviation}" for deviation in result.deviations]
        return text


def find_evaluator(subject: str) -> Compute:
    """The `compute` function for a subject; raises FileNotFoundError when nobody answers it."""
    if not subject.isidentifier():
        raise FileNotFoundError(f'the "file" field is {subject!r}, which names no subject')
    path = HERE / "evaluators" / f"{subject}.py"
    if not path.exists():
        raise FileNotFoundError(f"no evaluator for {subject!r} in {path.parent.name}/")
    compute: Compute = load_module(path).compute
    return compute


def check_case(case: Mapping[str, Any], compute: Compute, folder: Path) -> Any:
    """Compute one case and compare; whatever goes wrong inside is a failure of this case only."""
    prepared = dict(case, inputs=_place_files(case.get("inputs", {}), folder))
    try:
        return outcome.compare_case(case, compute(prepared))
    except Exception as problem:
        deviation = outcome.Deviation("(all)", "a result", f"{type(problem).__name__}: {problem}", None)
        return outcome.Outcome(str(case.get("id", "?")), (deviation,))


def check_file(path: Path) -> FileReport:
    """Run every case of one check file."""
    content = json.loads(path.read_text(encoding="utf-8"))
    compute = find_evaluator(str(content["file"]))
    return FileReport(path, tuple(check_case(case, compute, path.parent) for case in content["cases"]))


def _place_files(value: Any, folder: Path) -> Any:
    """Turn relative CSV paths into real ones."""
    if isinstance(value, str) and value.endswith(".csv"):
        return str((folder / value).resolve())
    if isinstance(value, dict):
        return {key: _place_files(item, folder) for key, item in value.items()}
    if isinstance(value, list):
        return [_place_files(item, folder) for item in value]
    return value


def main(arguments: list[str] | None = None) -> int:
    """Check the named files; 0 when all agree, 1 when something fails, 2 when a file cannot be checked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    status = 0
    for path in parser.parse_args(arguments).files:
        try:
            report = check_file(path)
        except (OSError, ValueError, KeyError, TypeError) as problem:
            print(f"{path.name}: cannot be checked: {problem}", file=sys.stderr)
            status = 2
            continue
        print("\n".join(report.lines()))
        if report.failed:
            status = max(status, 1)
    return status


if __name__ == "__main__":
    try:
        sys.exit(main())
    except BrokenPipeError:  # the reader (head, less) has seen enough
        sys.stderr.close()
        sys.exit(1)
