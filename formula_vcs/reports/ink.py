"""Words on a terminal: colour that never carries meaning alone, and lines of 80 columns."""

from __future__ import annotations

import textwrap
from typing import Final, TextIO

from formula_vcs.reports.harmless import coloured, terminal

WIDTH: Final = 80
_CODES: Final = {
    "block": "31;1",
    "warn": "33",
    "note": "36",
    "strong": "1",
    "dim": "2",
    "more": "32",
    "less": "35",
}


class Ink:
    """A pen for one output."""

    def __init__(self, out: TextIO) -> None:
        """Take the output; whether it gets colour is decided once."""
        self._out = out
        self._colour = coloured(out)

    def paint(self, text: str, style: str) -> str:
        """Give text in a style, where there is colour."""
        return f"\033[{_CODES[style]}m{text}\033[0m" if self._colour else text

    def line(self, text: str = "") -> None:
        """Write a line as it is: its parts are harmless already."""
        self._out.write(f"{text}\n")

    def wrapped(self, text: str, first: str = "", rest: str | None = None) -> None:
        """Write somebody's words, made harmless and folded to 80 columns."""
        hanging = " " * len(first) if rest is None else rest
        lines = textwrap.wrap(
            terminal(text), WIDTH, initial_indent=first, subsequent_indent=hanging,
            break_long_words=False, break_on_hyphens=False,
        )  # fmt: skip
        for line in lines or [first.rstrip()]:
            self.line(line)
