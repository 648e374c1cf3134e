"""Numbers over time in one line of characters: the higher the value, the higher the block."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final, TextIO

BLOCKS: Final = "\u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588"
PLAIN: Final = "_.-~=+*#"  # where the terminal's encoding has no blocks
UNKNOWN: Final = "?"


def levels_for(out: TextIO) -> str:
    """Give the characters that an output can write, the lowest first."""
    encoding = getattr(out, "encoding", None) or "utf-8"
    try:
        BLOCKS.encode(encoding)
    except (UnicodeError, LookupError):
        return PLAIN
    return BLOCKS


def sparkline(values: Sequence[Fraction | None], width: int, levels: str = BLOCKS) -> str:
    """Draw values, the oldest first, from the lowest to the highest; of more than ``width`` every so-manieth.

    The first and the last are always drawn; what is not known is a question mark; equal values lie in the middle.

    >>> sparkline([Fraction(1), Fraction(2), None, Fraction(3)], 10, "_-#")
    '_-?#'
    """
    if len(values) > width > 1:
        last = len(values) - 1
        values = [values[round(number * last / (width - 1))] for number in range(width)]
    known = [value for value in values if value is not None]
    if not known:
        return UNKNOWN * len(values)
    low, span = min(known), max(known) - min(known)

    def level(value: Fraction) -> str:
        if not span:
            return levels[len(levels) // 2]
        return levels[min(int((value - low) / span * len(levels)), len(levels) - 1)]

    return "".join(UNKNOWN if value is None else level(value) for value in values)
