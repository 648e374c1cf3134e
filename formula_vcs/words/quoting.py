"""Somebody else's text: quoted in a message, compared for slips of the pen, made an id of."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

# --- Somebody else's text inside a message


LONGEST = 40


def quoted(text: str, longest: int = LONGEST) -> str:
    """Quote a text: what cannot be printed is shown escaped, and what is longer than ``longest`` is cut."""
    shown = "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in text[:longest])
    return f"'{shown}...'" if len(text) > longest else f"'{shown}'"


# --- Slips of the pen: how many there are between two names


def distance(one: str, other: str, most: int) -> int:
    """Count the slips between two names (a letter more, less, other, or two in turn), no further than ``most``.

    >>> distance("sodium benzoat", "sodium benzoate", 2), distance("linalol", "linalool", 1)
    (1, 1)
    """
    before: list[int] = []
    previous = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        current = [i]
        for j, against in enumerate(other, 1):
            cost = min(previous[j] + 1, current[j - 1] + 1, previous[j - 1] + (letter != against))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == against:
                cost = min(cost, before[j - 2] + 1)
            current.append(cost)
        if min(current) > most:
            return most + 1
        before, previous = previous, current
    return previous[-1]


# --- An id made of a name: lower case letters, digits and hyphens, as files are called


_LONGEST: Final = 60
_LETTERS: Final = str.maketrans({"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th"})


def slug(name: str) -> str:
    """Make an id of a name; "unnamed" where no letter or digit is in it.

    >>> slug("Xanthan Gum (clear), 80 mesh"), slug("Öl für Füße")
    ('xanthan-gum-clear-80-mesh', 'ol-fur-fusse')
    """
    plain = unicodedata.normalize("NFKD", name.casefold().translate(_LETTERS))
    bare = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return re.sub(r"[^a-z0-9]+", "-", bare).strip("-")[:_LONGEST].strip("-") or "unnamed"
