"""Words on a terminal: colour that never carries meaning alone, and lines of 80 columns."""

from __future__ import annotations

import shutil
import unicodedata
from collections.abc import Sequence
from functools import cache
from typing import Final, TextIO

from formula_vcs.words.escape import coloured, no_command, on_a_terminal, terminal
from formula_vcs.words.late_pattern import late_pattern

WIDTH: Final = 80
_WIDEST: Final = 160  # beyond it the eye loses the line
_CODES: Final = {
    "block": "31;1",
    "warn": "33",
    "note": "36",
    "strong": "1",
    "dim": "2",
    "more": "32",
    "less": "35",
}
_CODE: Final = late_pattern(r"\033\[[\d;]*m")


class Ink:
    """A pen for one output."""

    def __init__(self, out: TextIO) -> None:
        """Take the output; whether it gets colour is decided once."""
        self._out = out
        self._colour = coloured(out)

    @property
    def width(self) -> int:
        """Give the columns that a wide table may take."""
        return width_of(self._out)

    def paint(self, text: str, style: str) -> str:
        """Give text in a style, where there is colour."""
        return f"\033[{_CODES[style]}m{text}\033[0m" if self._colour and style else text

    def line(self, text: str = "") -> None:
        """Write a line as it is: its parts are harmless already."""
        self._out.write(f"{no_command(text)}\n")

    def wrapped(self, text: str, first: str = "", rest: str | None = None, style: str = "") -> None:
        """Write somebody's words, made harmless and folded to 80 columns; ``first`` and ``rest`` lead the lines."""
        hanging = " " * columns(first) if rest is None else rest
        lines = folded(terminal(text), WIDTH - columns(first), WIDTH - columns(hanging))
        for lead, line in zip([first, *[hanging] * len(lines)], lines, strict=False):
            self.line(f"{lead}{self.paint(line, style)}")
        if not lines:
            self.line(first.rstrip())


def width_of(out: TextIO) -> int:
    """Give the columns that a table may take: those of a terminal, or of one behind a pager, that is wider than 80."""
    if not on_a_terminal(out):
        return WIDTH
    return min(max(shutil.get_terminal_size((WIDTH, 24)).columns, WIDTH), _WIDEST)


def folded(text: str, first: int, rest: int) -> list[str]:
    """Fold text to lines of so many columns, the first of its own length; a longer word stands alone."""
    lines: list[str] = []
    line, room = "", first
    taken = 0
    for word in text.replace(" %", "\0%").split():
        wide = columns(word)
        if line and taken + 1 + wide > room:
            lines.append(line)
            line, taken, room = word, wide, rest
        else:
            line, taken = (f"{line} {word}", taken + 1 + wide) if line else (word, wide)
    return [item.replace("\0", " ") for item in (*lines, line) if item]


def columns(text: str) -> int:
    """Count the columns that a text takes on a terminal: wide characters take two, combining ones and colours none."""
    if "\x1b" in text:
        text = _CODE.sub("", text)
    if text.isascii():
        return len(text)
    return sum(map(_columns, text))


@cache
def _columns(character: str) -> int:
    if unicodedata.combining(character) or unicodedata.category(character) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def left(text: str, width: int) -> str:
    """Fill text up with blanks at its right."""
    return text + " " * (width - columns(text))


def right(text: str, width: int) -> str:
    """Fill text up with blanks at its left."""
    return " " * (width - columns(text)) + text


def cut(text: str, width: int) -> str:
    """Shorten text to so many columns, an ellipsis saying so."""
    if columns(text) <= width:
        return text
    kept = ""
    for character in text:
        if columns(kept + character) > width - 1:
            break
        kept += character
    return f"{kept.rstrip()}\u2026"


def at_point(numbers: Sequence[str]) -> list[str]:
    """Align numbers at their decimal points, all to one width; what is no number stands at the right."""
    heads = [number.partition(".")[0] for number in numbers]
    tails = [number[len(head) :] for number, head in zip(numbers, heads, strict=True)]
    before, after = max(map(columns, heads), default=0), max(map(columns, tails), default=0)
    return [f"{right(head, before)}{left(tail, after)}" for head, tail in zip(heads, tails, strict=True)]
