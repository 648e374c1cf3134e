"""How names of substances are folded, so that spellings of one name meet.

Two keys: `inci_key` (in the model) forgets case and spaces only; `loose_key` forgets all that people write in more than
one way: hyphens, brackets, accents, Greek letters, British and American spelling, letters that only look Latin,
characters that are not seen.  No two names of the Commission's inventory that mean two substances share a loose key
(the compiler refuses that), so a name found by it is that substance.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Final

_GREEK: Final = {
    "\u03b1": "alpha", "\u03b2": "beta", "\u03b3": "gamma", "\u03b4": "delta", "\u03b5": "epsilon", "\u03c9": "omega",
    "\u00df": "ss", "\u00d7": "x", "\u00e6": "ae", "\u0153": "oe", "\u00f8": "o", "\u0142": "l", "\u0131": "i",
}  # fmt: skip
# Letters drawn like Latin ones: from the table of confusables of Unicode Technical Standard #39.  A Greek letter that
# stands alone is a word of chemistry and is read as one; inside a word of Latin letters it is taken for its likeness.
_LIKE: Final = str.maketrans(
    "\u0430\u0432\u0435\u043a\u043c\u043d\u043e\u0440\u0441\u0442\u0443\u0445\u0456\u0458\u0455\u0501\u04cf\u04bb\u0493"
    "\u1d00\u0299\u1d04\u1d05\u1d07\ua730\u0262\u029c\u026a\u1d0a\u1d0b\u029f\u1d0d\u0274\u1d0f\u1d18\u0280\ua731"
    "\u1d1b\u1d1c\u1d20\u1d21\u028f\u1d22\u0261\u0251",
    "abekmhopctyxijsdlhfabcdefghijklmnoprstuvwyzga",
)
_CAPITALS_LIKE: Final = str.maketrans(
    "\u0391\u0392\u0395\u0396\u0397\u0399\u039a\u039c\u039d\u039f\u03a1\u03a4\u03a5\u03a7"
    "\u0410\u0412\u0415\u041a\u041c\u041d\u041e\u0420\u0421\u0422\u0423\u0425\u0406\u0408\u0405",
    "ABEZHIKMNOPTYXABEKMHOPCTYXIJS",
)
_GREEK_LIKE: Final = str.maketrans(
    "\u03b1\u03b2\u03b3\u03b5\u03b7\u03b9\u03ba\u03bd\u03bf\u03c1\u03c3\u03c4\u03c5\u03c7\u03c9\u03b6\u03bc",
    "abyenikvopotuxwzu",
)
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
_BETWEEN_NUMBERS: Final = re.compile(r"(?<=\d)[^a-z0-9]+(?=\d)")
_REST: Final = re.compile(r"[^a-z0-9.]|(?<!\d)\.|\.(?!\d)")
_MIXED: Final = re.compile(r"(?:[a-z]+[\u0370-\u03ff]|[\u0370-\u03ff]+[a-z])[a-z\u0370-\u03ff]*")


@lru_cache(maxsize=8192)
def loose_key(name: str) -> str:
    """Fold a name to letters a to z and digits; two numbers side by side stay apart, by a point.

    >>> loose_key("PEG-40 Hydrogenated Castor Oil"), loose_key("1,2-Hexanediol"), loose_key("Aluminium Sulphate")
    ('peg40hydrogenatedcastoroil', '1.2hexanediol', 'aluminumsulfate')
    """
    if name.isascii():
        folded = name.casefold()
    else:
        parts = unicodedata.normalize("NFKD", name).translate(_CAPITALS_LIKE).casefold()
        seen = "".join(c for c in parts if unicodedata.category(c) not in ("Mn", "Cf", "Cc")).translate(_LIKE)
        seen = _MIXED.sub(lambda word: word[0].translate(_GREEK_LIKE), seen)
        folded = "".join(_GREEK.get(c, c) for c in seen)
    folded = _REST.sub("", _BETWEEN_NUMBERS.sub(".", folded))
    for written, meant in _SPELLINGS:
        folded = folded.replace(written, meant)
    return folded
