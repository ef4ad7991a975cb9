"""How far a long command came, on the terminal of whoever waits for it."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TextIO

# A line that changes more often than this is not read.
EVERY_S = 0.2
WIDTH = 60


class Progress:
    """One line that says what is being done and how much of it was; nothing where nobody looks."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream or sys.stderr
        self._next_at = 0.0
        self._said = False

    def __call__(self, what: str, done: int) -> None:
        """Say how far it came."""
        if monotonic() < self._next_at or not self._stream.isatty():
            return
        self._next_at, self._said = monotonic() + EVERY_S, True
        self._write(f"{what.replace('_', ' ')}: {done:,}")

    def end(self) -> None:
        """Take the line away: what came of it is said below."""
        if self._said:
            self._write("")
            self._stream.write("\r")

    def _write(self, line: str) -> None:
        self._stream.write(f"\r{line:<{WIDTH}}")
        self._stream.flush()


@contextmanager
def progress() -> Iterator[Progress]:
    """Give a line of progress, which is gone afterwards whatever came of the work."""
    line = Progress()
    try:
        yield line
    finally:
        line.end()
