"""Names that read as another name: with characters that are not seen, or letters that only look like Latin ones.

`fold` gives what such a name reads as, so that a limit, a list or a search finds a substance however it is written.
It knows no synonyms, and a digit in place of a letter ("F0rmaldehyde") it leaves alone: names have digits.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import Final

_NOT_SEEN: Final = frozenset(["Cc", "Cf", "Co", "Cs", "Zl", "Zp"])
_BLANKS: Final = frozenset("\t\n\v\f\r")
_MARKS: Final = frozenset(["Mn", "Me"])
# Default_Ignorable_Code_Point of Unicode 15.0 (DerivedCoreProperties.txt); the last three are drawn as a blank
_IGNORED: Final = (
    (0x034F, 0x034F), (0x115F, 0x1160), (0x17B4, 0x17B5), (0x180B, 0x180F), (0x2065, 0x2065), (0x3164, 0x3164),
    (0xFE00, 0xFE0F), (0xFFA0, 0xFFA0), (0xFFF0, 0xFFF8), (0xE0000, 0xE0FFF), (0x2800, 0x2800), (0x16FE4, 0x16FE4),
    (0x1D159, 0x1D159),
)  # fmt: skip


def fold(name: str) -> str:
    r"""Give what a name reads as: Latin letters for what looks like them, no hidden ones, no accents, in small letters.

    A Greek letter that stands alone stays ("\u03b1-Pinene").  Pure: the same text always gives the same.

    >>> fold("  F\u1d0frm\u0251ldehyd\u1d07 "), fold("Hydroqui\u200bnone"), fold("\u03b1-Pinene") == "\u03b1-pinene"
    ('formaldehyde', 'hydroquinone', True)
    """
    plain = name.isascii() and name.isprintable()
    return " ".join(name.split()).casefold() if plain else _folded(name)


@lru_cache(maxsize=4096)
def _folded(name: str) -> str:
    seen = "".join(character for character in name if character in _BLANKS or not unseen(character))
    latin = _latin(_latin(_bare(seen)))  # twice: a capital may read as no letter where its small one does
    return " ".join(_bare(latin).split()).casefold()


def _bare(text: str) -> str:
    """Give a text in plain forms of its letters, without accents."""
    return "".join(c for c in unicodedata.normalize("NFKD", text) if unicodedata.category(c) not in _MARKS)


def _latin(text: str) -> str:
    read = (text[at] if _alone(text, at) else look_alike(text[at]) or text[at] for at in range(len(text)))
    return "".join(read).casefold()


def _alone(text: str, at: int) -> bool:
    """Say whether a Greek letter stands alone, as it may in the name of a substance."""
    if not 0x370 <= ord(text[at]) <= 0x3FF:
        return False
    return not any(neighbour.isalnum() for neighbour in (text[at - 1 : at], text[at + 1 : at + 2]))


def unseen(character: str) -> bool:
    """Say whether a character is not seen: it is drawn as nothing or as a blank, or only turns what stands around it.

    The blanks that are blanks (a no-break space, a thin one) are seen as such and are not meant.
    """
    code = ord(character)
    if unicodedata.category(character) in _NOT_SEEN or no_character(code):
        return True
    return any(first <= code <= last for first, last in _IGNORED)


def no_character(code: int) -> bool:
    """Say whether a code is none of a character, for ever (The Unicode Standard, section 23.7)."""
    return code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF


def look_alike(character: str) -> str:
    """Give the letter or digit that a character reads as where it is another one, "" where it reads as itself.

    A letter with an accent reads as itself, and so does one in a form of its own (NFKC brings that back).
    """
    if character.isascii():
        return ""
    found = _look_alikes().get(character, "")
    return found or (str(unicodedata.decimal(character)) if unicodedata.category(character) == "Nd" else "")


@lru_cache(maxsize=1)
def _look_alikes() -> dict[str, str]:
    found: dict[str, str] = {}
    letter = ""
    for line in Path(__file__).with_name("lookalikes.txt").read_text("utf-8").splitlines():
        if line.startswith("#"):
            continue
        codes = line.split()
        if not line.startswith(" "):
            letter = codes.pop(0)
        found.update((chr(int(code, 16)), letter) for code in codes)
    return found
