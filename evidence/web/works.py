"""Long work beside the pages: one thing at a time, watched while it runs, told when it is done."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from itertools import count
from threading import Event, Lock, Thread
from typing import Any

from evidence.errors import BadInput
from evidence.workflows.gather.gathering import Progress, Tell

PATIENCE = 0.5  # seconds: what is done by then is answered at once, as if there were no thread
CLOSING = 5.0  # seconds that closing waits for work to notice it
MOST_KEPT = 5  # finished works whose report can still be opened


class Busy(BadInput):
    """Something else is being done just now."""

    @classmethod
    def of(cls, work: "Work") -> "Busy":
        """What is told while `work` goes on."""
        return cls(f"{work.doing} just now.", hint="Wait until that is done, then send this again.")


class Later(Exception):
    """What a page shows is still being worked out: `work` tells when it is done."""

    def __init__(self, work: "Work") -> None:
        super().__init__(work.doing)
        self.work = work


class Stopped(Exception):
    """The page is being closed: what runs ends here, and nothing of it is stored."""


@dataclass(slots=True, eq=False)
class Work:
    """Something that takes long: what is done, how far it is, and once `finished`, its result or its problem."""

    number: int
    doing: str  # "large.bib is being brought in"
    unit: tuple[str, str]  # ("record", "records")
    place: str  # the page that tells the result
    text: str = ""  # what was typed, to be shown again where it fails
    progress: Progress | None = None
    result: Any = None
    problem: Exception | None = None
    finished: Event = field(default_factory=Event)
    asked: Hashable = None  # what is worked out; None: something that is stored, and other changes wait

    @property
    def percent(self) -> int | None:
        """How much of the file is gone through; None while nothing can be said, as after its end."""
        at = self.progress
        if at is None or not at.records or not 0 < at.position < at.size:
            return None
        return 100 * at.position // at.size

    @property
    def how_far(self) -> str:
        """How far it is, in words: "1,200 of about 5,000 records, 24 %"."""
        at, percent = self.progress, self.percent
        if at is None or not at.records:
            return "It is being made ready." if self.asked is None else "It is being worked out."
        if percent is None:
            return f"{at.records:,} {self.unit[at.records != 1]} so far; the file is read to its end."
        about = max(at.records, round_off(at.records * at.size / at.position))
        return f"{at.records:,} of about {about:,} {self.unit[about != 1]}, {percent} %"


def round_off(number: float) -> int:
    """A guess with two figures, as a guess is told: 4,961 is 5,000."""
    return int(float(f"{number:.1e}"))


def wait_for(work: Work) -> Any:
    """What comes of a work that goes on in another thread."""
    work.finished.wait()
    if work.problem is not None:
        raise work.problem
    return work.result


class Works:
    """The long works of one run of the page. `patience`: seconds that an answer waits for one to be done."""

    def __init__(self, patience: float = PATIENCE) -> None:
        self.patience = patience
        self._kept: dict[int, Work] = {}
        self._numbers = count(1)
        self._lock = Lock()
        self._closing = Event()

    def begin(
        self,
        doing: str,
        do: Callable[[Tell], Any],
        *,
        unit: tuple[str, str],
        place: str,
        text: str = "",
    ) -> Work:
        """Start a work in a thread, and wait a little for it. Raises `Busy` while another one goes on."""
        before = self.running()
        if before is not None:
            before.finished.wait(self.patience)
        with self._lock:
            now = self.running()
            if now is not None:
                raise Busy.of(now)
            work = Work(next(self._numbers), doing, unit, place, text)
            self._keep(work)
        return self._start(work, do)

    def work_out(self, asked: Hashable, doing: str, do: Callable[[], Any], place: str) -> Work:
        """Work out what a page shows, beside whatever else goes on; what is being worked out already goes on.

        Two pages that ask the same share what comes of it; each visitor is led back to the page that was asked for.
        """
        with self._lock:
            same = [work for work in self._kept.values() if work.asked == asked]
            before = next((work for work in same if work.place == place or work.finished.is_set()), None)
            if before is None:
                work = Work(next(self._numbers), doing, ("", ""), place, asked=asked)
                self._keep(work)
        if before is None:
            return self._start(work, lambda tell: wait_for(same[0]) if same else do())
        before.finished.wait(self.patience)
        return before

    def forget(self, work: Work) -> None:
        """Let go of a work that failed or is not kept, so that it may be done again."""
        with self._lock:
            self._kept.pop(work.number, None)

    def _keep(self, work: Work) -> None:
        """Keep a work and let old ones go; what pages worked out pushes out no report of what was stored."""
        self._kept[work.number] = work
        alike = [kept for kept in self._kept.values() if (kept.asked is None) == (work.asked is None)]
        done = sorted(kept.number for kept in alike if kept.finished.is_set())
        for number in done[: max(0, len(alike) - MOST_KEPT)]:
            del self._kept[number]

    def _start(self, work: Work, do: Callable[[Tell], Any]) -> Work:
        Thread(target=self._carry_out, args=(work, do), daemon=True, name=f"work {work.number}").start()
        work.finished.wait(self.patience)
        return work

    def _carry_out(self, work: Work, do: Callable[[Tell], Any]) -> None:
        def note(progress: Progress) -> None:
            if self._closing.is_set():
                raise Stopped
            work.progress = progress

        try:
            work.result = do(note)
            work.text = ""  # it is stored
        except Exception as problem:  # told by the page that asks for the result
            work.problem = problem
        finally:
            work.finished.set()

    def running(self) -> Work | None:
        """What is being done now that changes the catalogue."""
        works = list(self._kept.values())
        return next((work for work in works if work.asked is None and not work.finished.is_set()), None)

    def find(self, number: str | None) -> Work | None:
        """The work that an address names; None where it is none of this run, or was forgotten."""
        if number is None or not (number.isascii() and number.isdecimal()) or len(number) > 9:
            return None
        return self._kept.get(int(number))

    def close(self) -> None:
        """Have what runs end without storing anything; waits a little for it."""
        self._closing.set()
        running = self.running()
        if running is not None:
            running.finished.wait(CLOSING)
