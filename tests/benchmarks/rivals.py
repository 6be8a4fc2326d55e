"""What the benchmarks share: repeated timing, and R's metafor where it is installed. Other libraries are
never required.
"""

import shutil
import subprocess
import time
from collections.abc import Callable
from typing import Any


def time_best(action: Callable[[], Any], *, least_seconds: float = 0.4, most_runs: int = 200) -> float:
    """Seconds of the fastest of several runs, after one that warms up."""
    action()
    best, spent, runs = float("inf"), 0.0, 0
    while runs == 0 or (spent < least_seconds and runs < most_runs):
        start = time.perf_counter()
        action()
        took = time.perf_counter() - start
        best, spent, runs = min(best, took), spent + took, runs + 1
    return best


def time_metafor(call: str, columns: dict[str, list[Any]], runs: int = 3) -> float | None:
    """Seconds of the fastest run of an R expression on data frame `d`; None without R and metafor."""
    if shutil.which("Rscript") is None:
        return None
    data = ", ".join(f"{name} = c({', '.join(map(repr, values))})" for name, values in columns.items())
    program = (
        "suppressMessages(library(metafor)); "
        f"d <- data.frame({data}); "
        f"t <- sapply(1:{runs}, function(i) system.time({call})[['elapsed']]); cat(min(t))"
    )
    try:
        done = subprocess.run(
            ["Rscript", "-"], input=program, capture_output=True, text=True, timeout=600, check=True
        )
    except (subprocess.SubprocessError, OSError):
        return None
    return float(done.stdout.strip().split()[-1])


def report(what: str, ours: float, rivals: dict[str, float | None]) -> None:
    """One line: our time, and each rival's time with how many times as long it takes."""
    shown = [f"{what:<34} {ours * 1e3:10.3f} ms"]
    for name, seconds in rivals.items():
        shown.append(f"{name} not installed" if seconds is None else f"{name} {seconds / ours:8.1f} x")
    print("   ".join(shown))
