"""What a command that takes long shows meanwhile on a terminal: that it works, for how long, and how far it is."""

import sys
import time
from threading import Event, Lock, Thread

PATIENCE = 2.0  # seconds before anything is shown: what is done by then needs no words
EVERY = 0.5  # seconds between two looks at the clock


class Waiting:
    """One line on standard error, written over and over, and gone before anything else is printed there."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._ended = Event()
        self._shown = 0  # characters that stand on the line now
        self._said = ""
        self._since: float | None = None

    def start(self) -> None:
        """From now on, tell after a while that work goes on; nothing where nobody looks."""
        if self._since is not None or not sys.stderr.isatty():
            return
        self._since, self._said, self._ended = time.monotonic(), "", Event()
        Thread(target=self._tell_time, args=(self._ended,), daemon=True, name="waiting").start()

    def say(self, text: str) -> None:
        """What is being done, or how far it is: shown at the next look."""
        self._said = text

    def stop(self) -> None:
        """Nothing is told any more: the command has ended, waits for an answer, or shows how far it is itself."""
        self._ended.set()
        self._since = None
        self.clear()

    def clear(self) -> None:
        """Take the line away, so that something else can stand there."""
        with self._lock:
            if self._shown:
                print("\r" + " " * self._shown + "\r", end="", file=sys.stderr, flush=True)
                self._shown = 0

    def _tell_time(self, ended: Event) -> None:
        while not ended.wait(EVERY):
            since = self._since
            if since is not None and time.monotonic() - since > PATIENCE:
                self._write(f"{self._said or 'Still working'}, {time.monotonic() - since:.0f} s ...", ended)

    def _write(self, text: str, ended: Event) -> None:
        with self._lock:
            if ended.is_set():
                return
            padded = text.ljust(self._shown)
            print(f"\r{padded}", end="", file=sys.stderr, flush=True)
            self._shown = len(padded)


waiting = Waiting()
