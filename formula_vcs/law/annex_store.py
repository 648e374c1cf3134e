"""Rows of Annexes II to VI, looked up by a substance's name and CAS number without reading the rest of them.

Compiled by `compile_annexes.py`.  Besides its own name and number a substance is found by a word of its name, where an
entry is about an element and its compounds ("mercuric"), and by its colour index number, whichever lake it is of.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Final

from formula_vcs.law.identity import law_key, loose_key
from formula_vcs.law.pack_rows import row_of
from formula_vcs.law.sorted_table import shared_table
from formula_vcs.model.law_row import LawRow
from formula_vcs.words.late_pattern import late_pattern

_ROOM: Final = Path(__file__).with_name("annexes")
_NANO: Final = " (nano)"
_LAKE: Final = " lake"
_COLOUR: Final = late_pattern(r"ci (\d{5})\b")
_WORD: Final = late_pattern(r"[a-z]+")
_CITED: Final = late_pattern(r"Annex (?P<annex>II|III|IV|V|VI)/(?P<entries>[^;\[]+)")
_ENTRIES: Final = late_pattern(r"(\d+[a-d]?)(?: to (\d+))?(?:\([a-z)(]*\))?")
_HINT, _SHARED = "-hint", "-shared"
# What is grown on an element, or drawn from what is, is no plain compound of it.
# The last words of the names of salts.
_SALTS: Final = frozenset(
    ("hcl", "hydrochloride", "dihydrochloride", "hydrobromide", "hbr", "chloride", "bromide", "iodide", "sulfate",
     "sulphate", "hemisulfate", "nitrate", "phosphate", "acetate", "citrate", "tartrate", "bitartrate", "maleate",
     "fumarate", "succinate", "lactate", "gluconate", "mesylate", "oxalate", "salicylate", "benzoate", "picrate",
     "stearate", "oleate", "pamoate", "sodium", "potassium", "calcium")
)  # fmt: skip
_NO_COMPOUND: Final = frozenset(
    ("ferment", "filtrate", "lysate", "extract", "yeast", "sprout", "media", "culture", "water", "polypeptide",
     "polypeptides", "protein")
)  # fmt: skip


def annex_rows_about(names: tuple[str, ...], numbers: tuple[str, ...]) -> list[LawRow]:
    """The rows about a substance, by its folded names and its CAS numbers (any may be unknown to the tables)."""
    return [row for name in _ids(names, numbers) if (row := annex_row(name)) is not None]


@lru_cache(maxsize=8192)
def _ids(names: tuple[str, ...], numbers: tuple[str, ...]) -> tuple[str, ...]:
    mark = _NANO if any(name.endswith(_NANO) for name in names) else ""
    named = [found for name in names for found in _by_name(name)]
    numbered = [found for number in numbers for found in _look_up(number + mark)]
    found = dict.fromkeys((*named, *numbered, *_family(names), *_salt(names)))
    if mark and all(name.endswith((_HINT, _SHARED)) for name in found):
        found = dict.fromkeys((*found, *_ids(tuple(name.removesuffix(_NANO) for name in names), numbers)))
    return tuple(name for name in found if _stands(name, found, named))


def _stands(name: str, found: dict[str, None], named: list[str]) -> bool:
    """Say whether a row stands beside the others.

    A hint says nothing where the row itself is found.  A number that is shared says only that it may be the entry's,
    where the name is one of those that share it.
    """
    if name.endswith(_HINT):
        return not any(_entry(other) == name.removesuffix(_HINT) and not other.endswith(_HINT) for other in found)
    return name.endswith(_SHARED) or f"{_entry(name)}{_SHARED}" not in named


def _entry(name: str) -> str:
    return "-".join(name.split("-")[:3])


def _by_name(key: str) -> tuple[str, ...]:
    """The rows of a name; those of a colorant for any of its lakes."""
    colour, mark = _COLOUR.match(key), _NANO if key.endswith(_NANO) else ""
    named = _look_up(key) or _look_up(f"^{loose_key(key)}")
    if colour is not None:
        return (*named, *_look_up(f"ci {colour[1]}{mark}"))
    return named or (_by_name(law_key(key.removesuffix(_LAKE))) if key.endswith(_LAKE) else ())


def _look_up(key: str) -> tuple[str, ...]:
    return tuple(name for (name,) in shared_table(_ROOM / "keys.tsv").rows(key))


def annexes_name(key: str) -> bool:
    """Say whether a folded name stands in the annexes, surely or as a hint."""
    return bool(_look_up(key))


def _salt(names: tuple[str, ...]) -> tuple[str, ...]:
    """The rows of the entries that are about a base or an acid and its salts, for a name of such a salt."""
    bases = dict.fromkeys(name.rpartition(" ")[0] for name in names if name.rpartition(" ")[2] in _SALTS)
    return tuple(row for base in bases if base for row in _look_up(f"={base}"))


@lru_cache(maxsize=1)
def _families() -> dict[str, str]:
    """The words that make a name one of an element's: word to row."""
    return {key[1:]: name for key, name in shared_table(_ROOM / "keys.tsv").starting("~")}


def _family(names: tuple[str, ...]) -> tuple[str, ...]:
    """The rows of the elements that a substance is a compound of, by any of its names."""
    if any(_COLOUR.match(name) for name in names):
        return ()
    words = {word for name in names for word in _WORD.findall(name)}
    found = {row for word in words if (row := _families().get(word)) is not None}
    if not found or not words.isdisjoint(_NO_COMPOUND):
        return ()
    outside = {row for name in names for row in _look_up(f"!{name.removesuffix(_NANO)}")}
    return tuple(sorted(found - outside))


@lru_cache(maxsize=4096)
def annex_row(name: str) -> LawRow | None:
    """A row by its id; None where there is none of that name."""
    found = shared_table(_ROOM / "rows.tsv").rows(name)
    return row_of(found[0][0], json.loads(found[0][1])) if found else None


def entry_known(annex: str, entry: str) -> bool:
    """Say whether an entry in force has a row that was brought in; those by hand have theirs in the packs."""
    base = f"eu-{annex}-{entry}"
    rows = shared_table(_ROOM / "rows.tsv").starting(base)
    return any(name == base or name.startswith(f"{base}-") for name, *_ in rows)


def entries_cited(citation: str) -> Iterator[tuple[str, str]]:
    """The entries that a citation names first: ("iii", "26"), ("iii", "27") ...

    >>> list(entries_cited("Regulation (EC) No 1223/2009, Annex III/26 to 28 and 47(a)"))
    [('iii', '26'), ('iii', '27'), ('iii', '28'), ('iii', '47')]
    """
    match = _CITED.search(citation)
    if match is None:
        return
    annex = match["annex"].casefold()
    for first, last in _ENTRIES.findall(match["entries"].split("(text", 1)[0]):
        if last:
            yield from ((annex, str(number)) for number in range(int(first), int(last) + 1))
        else:
            yield annex, first
