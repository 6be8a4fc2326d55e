"""What the benchmarks share: paired timing against other libraries, and R's metafor where it is installed.

Times are processor seconds (one thread: run.py sets that), so that what else the machine does counts
as little as can be.

Other libraries are never required: a rival that is not installed leaves its cell empty.
"""

import shutil
import statistics
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: our seconds, and how many times as long a rival takes (median, least, most)."""

    what: str
    ours: float
    rival: str = ""
    ratio: float | None = None
    least: float | None = None
    most: float | None = None
    note: str = ""

    def cells(self) -> tuple[str, str, str, str, str]:
        """The line of the table as text."""
        ratio = "" if self.ratio is None else f"{_short(self.ratio)} ×"
        spread = (
            "" if self.least is None or self.most is None else f"{_short(self.least)} to {_short(self.most)}"
        )
        return (
            self.what,
            show_seconds(self.ours),
            self.rival,
            ratio + (f" ({spread})" if spread else ""),
            self.note,
        )


def show_seconds(seconds: float) -> str:
    """In ms below a second."""
    return f"{seconds:.2f} s" if seconds >= 1.0 else f"{seconds * 1e3:.3g} ms"


def _short(ratio: float) -> str:
    return f"{ratio:,.0f}" if ratio >= 100 else f"{ratio:.1f}"


def time_once(action: Callable[[], Any], *, least_seconds: float = 0.02) -> float:
    """Seconds of one run: the mean of as many as fill a moment, so that the clock's step does not matter."""
    runs, start = 0, time.process_time()
    while True:
        action()
        runs += 1
        spent = time.process_time() - start
        if spent >= least_seconds:
            return spent / runs


def time_median(action: Callable[[], Any], *, runs: int = 7) -> float:
    """Median seconds of several runs after one that warms up."""
    action()
    return statistics.median(time_once(action) for _ in range(runs))


def race(
    what: str,
    ours: Callable[[], Any],
    rival: str,
    theirs: Callable[[], Any],
    *,
    pairs: int = 7,
    note: str = "",
) -> Row:
    """Run the two in turn and take the median of the ratios pair by pair, so that the machine's speed cancels."""
    ours()
    theirs()
    timed = [(time_once(ours), time_once(theirs)) for _ in range(pairs)]
    ratios = sorted(b / a for a, b in timed)
    return Row(
        what,
        statistics.median(a for a, _ in timed),
        rival,
        statistics.median(ratios),
        ratios[0],
        ratios[-1],
        note,
    )


def race_metafor(
    what: str,
    ours: Callable[[], Any],
    call: str,
    columns: dict[str, list[Any]],
    *,
    runs: int = 5,
    repeat: int = 1,
    note: str = "",
) -> Row:
    """As `race` against an R expression on data frame `d`, by R's own count of processor time; `repeat` evaluations a
    reading."""
    seconds = time_metafor(call, columns, runs, repeat)
    timed = [time_once(ours) for _ in range(max(3, runs))]
    middle = statistics.median(timed)
    if not seconds:
        return Row(
            what, middle, "metafor", None, note=(note + "; " if note else "") + "metafor is not installed"
        )
    ratios = sorted(one / middle for one in seconds)
    return Row(what, middle, "metafor", statistics.median(ratios), ratios[0], ratios[-1], note)


def time_metafor(call: str, columns: dict[str, list[Any]], runs: int, repeat: int = 1) -> list[float]:
    """Seconds of each run of an R expression; empty without R and metafor."""
    if shutil.which("Rscript") is None:
        return []
    data = ", ".join(f"{name} = c({', '.join(map(repr, values))})" for name, values in columns.items())
    program = (
        f"suppressMessages(library(metafor)); d <- data.frame({data}); {'' if runs == 1 else f'invisible({call}); '}"
        f"t <- sapply(1:{runs}, function(i) sum(system.time(for (j in 1:{repeat}) {call})[1:2]) / {repeat}); cat(t)"
    )
    try:
        done = subprocess.run(
            ["Rscript", "-"], input=program, capture_output=True, text=True, timeout=900, check=True
        )
    except (subprocess.SubprocessError, OSError):
        return []
    return [float(one) for one in done.stdout.split()]
