"""Say on a terminal how far long work is, once it has taken a second."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import Final, Self

FIRST: Final = 1.0  # seconds
AGAIN: Final = 0.5


class Ticker:
    """A line on stderr, where stderr is a terminal; it is wiped when the work is done."""

    def __init__(self, verb: str, first: float = FIRST) -> None:
        """Take the word for what is done ("checking", "comparing"), and after how many seconds to begin."""
        self._verb = verb
        self._next = time.monotonic() + first
        self._shown = False

    def __enter__(self) -> Self:
        """Give the ticker itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Wipe the line, also when the work broke off."""
        self.done()

    def __call__(self, done: int, count: int) -> None:
        """Say that so many of all recipes are done."""
        now = time.monotonic()
        if now >= self._next and sys.stderr.isatty():
            self._next = now + AGAIN
            self._shown = True
            print(f"\r{self._verb} {done} of {count} recipes", end="", file=sys.stderr, flush=True)

    def done(self) -> None:
        """Wipe the line."""
        if self._shown:
            self._shown = False
            print("\r\033[K", end="", file=sys.stderr, flush=True)
