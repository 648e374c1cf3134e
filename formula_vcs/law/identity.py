"""Which substance a name means: how names are folded for a look-up, and who it is.

`inci_key` (in the model) forgets case, spaces and what deceives the eye; `loose_key` forgets besides all that people
write in more than one way: hyphens, brackets, Greek letters, British and American spelling.  No two names of the
Commission's inventory that mean two substances share a loose key, so a name found by it is that substance.

Each look-up reads some lines of a sorted table.  What is found by its name is that substance; what is only *near* to a
known name is a guess, and whoever uses it says so.  CAS numbers of the inventory tell names apart; they tie a name to
no entry of an annex.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import Final, Literal, NamedTuple

from formula_vcs.law.sorted_table import SortedTable, shared_table
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.ingredient import inci_key
from formula_vcs.words.deceptive import fold
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import distance

# --- How names of substances are folded for a look-up, so that all spellings of one name meet


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


# --- Which substance a name means: looked up in the inventory of INCI names, by every spelling and language that it
# knows


How = Literal["inci", "spelling", "other name", "chemical name", "number", "near", ""]
_FOLDER: Final = Path(__file__).with_name("tables")
_NANO: Final = late_pattern(r"\s*[\(\[]\s*nano\s*[\)\]]\s*$", re.IGNORECASE)
_BRACKETS: Final = late_pattern(r"\s*[\(\[][^()\[\]]*[\)\]]")
_COLOUR: Final = late_pattern(r"(?:ci|cino|colorindex|colorindexno)?(\d{5})(?:\.\d)?")
_DIGITS: Final = late_pattern(r"\d+")
_SHORT_WORD: Final = 3
_LONG_WORD: Final = 8
_MOST_SLIPS: Final = 2
_MOST_WORDS: Final = 8
_MOST_NEAR: Final = 12
_MOST_TRIED: Final = 64


@lru_cache(maxsize=8)
def _table(name: str) -> SortedTable:
    return shared_table(_FOLDER / f"{name}.tsv")


class InventoryEntry(NamedTuple):
    """What the inventory has of a name: as a label writes it, CAS and EC numbers, functions."""

    inci: str
    cas: tuple[str, ...] = ()
    ec: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()


class Identity(NamedTuple):
    """What a name means.

    ``key`` is the folded name under which the law looks it up, ``inci`` the INCI name ("" where none is known), ``how``
    it was found; ``kind`` and ``source`` say of another name what it is and who has it.  ``near`` names what an
    unknown name may mean, nearest first.
    """

    key: str
    inci: str = ""
    how: How = ""
    kind: str = ""
    source: str = ""
    near: tuple[str, ...] = ()

    @property
    def certain(self) -> bool:
        """Say whether the substance is known, and not guessed."""
        return self.how not in ("", "near")


def entry_of(inci: str) -> InventoryEntry | None:
    """What the inventory has of an INCI name, however it is spelled; None where it has no such name."""
    rows = _table("inventory").rows(loose_key(_NANO.sub("", inci)))
    if not rows:
        return None
    name, *cells = rows[0]
    cas, ec, functions = (tuple(part for part in re.split(r"; |, ", cell) if part) for cell in cells)
    return InventoryEntry(name, cas, ec, functions)


def names_of_number(cas: str) -> tuple[str, ...]:
    """The INCI names that the inventory has a CAS number for."""
    return tuple(row[0] for row in _table("cas-names").rows(cas))


def other_names_of(inci: str) -> list[tuple[str, str, str]]:
    """The other names of a substance: name, kind, source.  Reads the whole table: for a person who asks."""
    return sorted(row[1:2] + row[3:] for row in _table("other-names") if row[2] == inci)  # type: ignore[misc]


@lru_cache(maxsize=16384)
def identify(name: str, cas: str = "") -> Identity:
    """Say what a name means; a CAS number helps where the name itself is not known.

    >>> identify("Aluminium Hydroxide").inci, identify("E202").inci, identify("Natriumbenzoat").key
    ('Aluminum Hydroxide', 'Potassium Sorbate', 'sodium benzoate')
    """
    found = known_as(name, cas)
    if found is None:
        close = nearest_names(name)
        found = Identity(inci_key(name), how="near" if close else "", near=close)
    return found


@lru_cache(maxsize=16384)
def known_as(name: str, cas: str = "") -> Identity | None:
    """Say what a name surely means, None where no table has it; what it may mean is not sought."""
    found = _by_name(_NANO.sub("", name))
    if found is None and cas and not cas_trouble(cas):
        named = names_of_number(cas)
        found = Identity(inci_key(named[0]), named[0], "number", near=named) if len(named) == 1 else None
    if found is not None and _NANO.search(name) is not None:
        return found._replace(key=f"{found.key} (nano)")
    return found


def law_key(name: str, cas: str = "") -> str:
    """The key under which the law's tables have a name: the folded INCI name, its own fold where none is known."""
    found = known_as(name, cas)  # what else a name may mean is sought for those who ask
    return inci_key(name) if found is None else found.key


def _by_name(name: str) -> Identity | None:
    """Find a name as it stands, then as a colour index number, without what stands in brackets, or in its parts."""
    found = _exactly(loose_key(name), name)
    if found is not None:
        return found
    colour = _COLOUR.fullmatch(loose_key(name))
    if colour is not None:
        found = _exactly(f"ci{colour[1]}", name)
    if found is None and _BRACKETS.search(name):
        found = _exactly(loose_key(_BRACKETS.sub("", name)), name)
    if found is None and "/" in name:
        parts = [_exactly(loose_key(_BRACKETS.sub("", part)), name) for part in name.split("/")]
        if all(part is not None and part.key == (parts[0] and parts[0].key) for part in parts):
            found = parts[0]
    return found if found is not None else _chemical(loose_key(name))


def _exactly(key: str, name: str) -> Identity | None:
    for _, inci, kind, source in _table("other-names").rows(key):
        same = inci_key(inci) == inci_key(name)  # water, which has one key in every language
        return Identity(inci_key(inci), inci, "inci" if same else "other name", kind, source)
    for inci, *_ in _table("inventory").rows(key):
        return Identity(inci_key(inci), inci, "inci" if inci_key(inci) == latin_key(name) else "spelling")
    return None


def _chemical(key: str) -> Identity | None:
    for (inci,) in _table("chemical-names").rows(key):
        return Identity(inci_key(inci), inci, "chemical name", "chemical", "PubChem")
    return None


@lru_cache(maxsize=4096)
def nearest_names(name: str) -> tuple[str, ...]:
    """Give at most three INCI names at the distance of slips of the pen: one a word, two in a long one."""
    bare = _NANO.sub("", name)
    found = _near(bare) or (_near(_BRACKETS.sub("", bare)) if _BRACKETS.search(bare) else ())
    return tuple(dict.fromkeys(found))[:3]


def _near(name: str) -> tuple[str, ...]:
    words = [key for key in map(loose_key, re.split(r"[^\w']+", name)) if key][:_MOST_WORDS]
    choices = [_near_words(word) for word in words]
    for slips in range(1, _MOST_SLIPS + 1):
        tried = (_exactly(loose_key(way), "") for way in islice(_with_slips(choices, slips), _MOST_TRIED))
        found = tuple(known.inci for known in tried if known is not None)
        if found:
            return found
    parted = (_exactly(loose_key(way), "") for way in _parted(words))
    return tuple(known.inci for known in parted if known is not None) or tuple(_near_whole(loose_key(name)))


def _with_slips(choices: list[tuple[tuple[int, str], ...]], slips: int) -> Iterator[str]:
    """The names that are some slips away, the fewest words changed first."""
    if not choices:
        if not slips:
            yield ""
        return
    for own, word in choices[0]:
        if own <= slips:
            for rest in _with_slips(choices[1:], slips - own):
                yield f"{word} {rest}"


def _parted(words: list[str]) -> Iterator[str]:
    """The names that come of a letter in place of a blank: "benzylsbenzoate"."""
    table = _table("words")
    for at, word in enumerate(words):
        for cut in range(_SHORT_WORD, len(word) - _SHORT_WORD) if len(word) >= _LONG_WORD else ():
            if table.rows(word[:cut]) and table.rows(word[cut + 1 :]):
                yield " ".join((*words[:at], word[:cut], word[cut + 1 :], *words[at + 1 :]))


@lru_cache(maxsize=4096)
def _near_words(word: str) -> tuple[tuple[int, str], ...]:
    """A word and the known words near to it, each with its distance; nothing near to a number or a short word."""
    if len(word) < _SHORT_WORD or any(letter.isdigit() for letter in word):
        return ((0, word),)
    most = 1 if len(word) < _LONG_WORD else _MOST_SLIPS
    intact = max(2, len(word) // 2)  # of a slip in one place one end is whole, but where two letters changed places
    table = _table("words")
    swapped = (word[:at] + word[at + 1] + word[at] + word[at + 2 :] for at in range(len(word) - 1))
    fore = (row[0] for row in table.starting(word[:intact]))
    back = (row[0][:0:-1] for row in table.starting(f"<{word[::-1][:intact]}"))
    near = {
        (slips, other)
        for other in (*fore, *back, *(other for other in swapped if table.rows(other)))
        if other != word and abs(len(other) - len(word)) <= most and (slips := distance(word, other, most)) <= most
    }
    return ((0, word), *sorted(near)[:_MOST_NEAR])


def _near_whole(key: str) -> Iterator[str]:
    """Give INCI names that begin as a name does and end otherwise by a slip or two: words may be written as one."""
    if len(key) < _LONG_WORD:
        return
    for number, row in enumerate(_table("inventory").starting(key[: len(key) * 2 // 3])):
        if number >= _MOST_TRIED * 4:
            return
        near = abs(len(row[0]) - len(key)) <= _MOST_SLIPS and distance(key, row[0], _MOST_SLIPS) <= _MOST_SLIPS
        if near and _DIGITS.findall(row[0]) == _DIGITS.findall(key):  # a number is no slip
            yield row[1]
