"""An id made of a name: lower case letters, digits and hyphens, as files are called."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

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
