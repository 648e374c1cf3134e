"""How names of substances are folded for a look-up, so that all spellings of one name meet.

`inci_key` (in the model) forgets case, spaces and what deceives the eye; `loose_key` forgets besides all that people
write in more than one way: hyphens, brackets, Greek letters, British and American spelling.  No two names of the
Commission's inventory that mean two substances share a loose key, so a name found by it is that substance.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from formula_vcs.words.deceptive import fold
from formula_vcs.words.late_pattern import late_pattern

_LETTERS: Final = str.maketrans(
    {
        "\u03b1": "alpha", "\u03b2": "beta", "\u03b3": "gamma", "\u03b4": "delta", "\u03b5": "epsilon",
        "\u03c9": "omega", "\u00d7": "x", "\u00e6": "ae", "\u0153": "oe", "\u00f8": "o", "\u0142": "l",
    }
)  # fmt: skip
# British and Latin spellings, each turned into the one that the inventory has.
_SPELLINGS: Final = (
    ("aluminium", "aluminum"),
    ("sulph", "sulf"),
    ("hydrolyse", "hydrolyze"),
    ("caesium", "cesium"),
    ("glycerine", "glycerin"),
    ("colour", "color"),
    ("oestr", "estr"),
)
_BETWEEN_NUMBERS: Final = late_pattern(r"(?<=\d)[^a-z0-9]+(?=\d)")
_REST: Final = late_pattern(r"[^a-z0-9.]|(?<!\d)\.|\.(?!\d)")


def latin_key(name: str) -> str:
    """Fold a name as `inci_key` does, with the Greek letters of chemistry by their names.

    >>> latin_key("\u03b1-Isomethyl  Ionone")
    'alpha-isomethyl ionone'
    """
    return fold(name).translate(_LETTERS)


@lru_cache(maxsize=8192)
def loose_key(name: str) -> str:
    """Fold a name to letters a to z and digits; two numbers side by side stay apart, by a point.

    >>> loose_key("PEG-40 Hydrogenated Castor Oil"), loose_key("1,2-Hexanediol"), loose_key("Aluminium Sulphate")
    ('peg40hydrogenatedcastoroil', '1.2hexanediol', 'aluminumsulfate')
    """
    folded = latin_key(name)
    folded = _REST.sub("", _BETWEEN_NUMBERS.sub(".", folded))
    for written, meant in _SPELLINGS:
        folded = folded.replace(written, meant)
    return folded
