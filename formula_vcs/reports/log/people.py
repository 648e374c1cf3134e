"""Who made the versions: whole names where a terminal has room for them, else initials that a note spells out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from formula_vcs.words.escape import terminal
from formula_vcs.words.late_pattern import late_pattern

_WORD: Final = late_pattern(r"[^\W_]")
_LETTERS: Final = 3
_MOST: Final = 30  # people whom a note names
NOBODY: Final = "?"


def initials(names: Iterable[str]) -> dict[str, str]:
    """Give each name letters of its own: AT for Ailsa Thorne, AT2 for the next one that begins so.

    >>> initials(["Ailsa Thorne", "Anna Tern", "山田 太郎", ""])
    {'Ailsa Thorne': 'AT', 'Anna Tern': 'AT2', '山田 太郎': '山太', '': '?'}
    """
    found: dict[str, str] = {}
    count: dict[str, int] = {}
    for name in dict.fromkeys(names):
        first = [letter.group() for word in terminal(name).split() if (letter := _WORD.search(word)) is not None]
        letters = "".join(first[:_LETTERS]).upper() or NOBODY
        count[letters] = count.get(letters, 0) + 1
        found[name] = letters if count[letters] == 1 else f"{letters}{count[letters]}"
    return found


def legend(short: Mapping[str, str]) -> str:
    """Spell initials out for a note: ``AT Ailsa Thorne; JM Jonah Merrick``."""
    named: Sequence[str] = [f"{letters} {name}" for name, letters in short.items() if name]
    more = len(named) - _MOST
    return "; ".join((*named[:_MOST], *([f"and {more} more"] if more > 0 else [])))
