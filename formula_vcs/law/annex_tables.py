"""The tables of Annexes II to VI as they were brought in (`annexes/*.csv`), and their readings (`readings.toml`)."""

from __future__ import annotations

import csv
import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from formula_vcs.law.identity import identify, loose_key
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.values import dataclass
from formula_vcs.words.late_pattern import late_pattern

ROOM: Final = Path(__file__).parent
ANNEXES: Final = ("ii", "iii", "iv", "v", "vi")
SURE: Final = ("law", "inci")
Line = dict[str, str]

_TAIL: Final = late_pattern(
    r",?\s*\b(when used|if (it|they)|except|with (the )?exception|unless|other than|including|for traces|see also|as"
    r" defined).*",
    re.IGNORECASE,
)
_PARTS: Final = late_pattern(r";| \[\d\]|\[INCI\]|\[INN\]|, its | and its | and their |, and salts| / ")
_NOISE: Final = late_pattern(r"\(INNM?\)( \(\d\))?|\(CAS No[^)]*\)|\be\.g\. ?")
_EMPTY: Final = late_pattern(r"(its |their )?(salts|derivatives|esters|isomers|preparations|compounds?)", re.IGNORECASE)
_SHORTEST: Final = 4


@dataclass(frozen=True)
class AnnexNames:
    """What an entry is looked up by: names as the tables spell them, and CAS numbers.

    ``sure`` and ``cas`` are the law's own, or an INCI name with its number; ``hinted`` are those that only an authority
    ties to the entry; ``shared`` are names whose number is the entry's and another's too.
    """

    sure: tuple[str, ...] = ()
    cas: tuple[str, ...] = ()
    hinted: tuple[str, ...] = ()
    hinted_cas: tuple[str, ...] = ()
    shared: tuple[str, ...] = ()

    @cached_property
    def keys(self) -> frozenset[str]:
        """All that is surely the entry's: folded names and numbers."""
        return frozenset((*map(name_key, self.sure), *self.cas))


class AnnexTables:
    """The tables, each read when first asked for."""

    @cached_property
    def readings(self) -> dict[str, Any]:
        """Give `readings.toml`."""
        return tomllib.loads((ROOM / "readings.toml").read_text("utf-8"))

    @staticmethod
    def lines(name: str) -> list[Line]:
        """The lines of a table."""
        with (ROOM / "annexes" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    @cached_property
    def entries(self) -> dict[str, dict[str, list[Line]]]:
        """The lines of each annex by entry, in the order of the law."""
        return {annex: self._by_entry(annex) for annex in ANNEXES}

    def _by_entry(self, table: str) -> dict[str, list[Line]]:
        found: dict[str, list[Line]] = defaultdict(list)
        for line in self.lines(table):
            found[line["entry"]].append(line)
        return dict(found)

    @cached_property
    def names(self) -> dict[tuple[str, str], AnnexNames]:
        """What each entry is looked up by, by annex and entry."""
        found = {}
        for annex in ANNEXES:
            named = self._by_entry(f"{annex}-names")
            for entry in self.entries[annex]:
                found[annex, entry] = self._graded(annex, entry, named.get(entry, ()))
        return found

    def _graded(self, annex: str, entry: str, lines: Iterable[Line]) -> AnnexNames:
        by_grade: dict[str, list[str]] = defaultdict(list)
        cas: dict[bool, list[str]] = defaultdict(list)
        none = {inci_key(name) for name in self.listed("not", annex, entry)}
        doubted = {inci_key(name) for name in self.listed("doubt", annex, entry)}
        for line in lines:
            if line["cas"] in none:
                continue
            unnamed = not line["name"] or (line["grade"] == "member" and not line["cas"])
            if not unnamed and inci_key(line["name"]) not in none:
                by_grade["identified" if inci_key(line["name"]) in doubted else line["grade"]].append(line["name"])
            if line["cas"]:
                cas[line["grade"] in SURE and line["cas"] not in doubted].append(line["cas"])
        meant = self.readings["members"].get(annex, {}).get(entry)
        members = [name for name in by_grade["identified"] if meant and re.search(meant, inci_key(name))]
        sure = unique((*self.listed("names", annex, entry), *by_grade["law"], *by_grade["inci"], *members))
        known = set(map(inci_key, sure))
        hinted = (name for name in (*by_grade["identified"], *by_grade["member"]) if inci_key(name) not in known)
        shared = (name for name in by_grade["number"] if inci_key(name) not in known)
        numbers = (number for number in cas[False] if number not in cas[True])
        return AnnexNames(sure, unique(cas[True]), unique(hinted), unique(numbers), unique(shared))

    def listed(self, table: str, annex: str, entry: str) -> tuple[str, ...]:
        """What a table of the readings lists for an entry."""
        return tuple(self.readings[table].get(annex, {}).get(entry, ()))


def law_names(title: str) -> tuple[str, ...]:
    """The names that the words of an entry give its substance.

    >>> law_names("3-Imidazol-4-ylacrylic acid (Urocanic acid) and its ethyl ester")
    ('3-Imidazol-4-ylacrylic acid (Urocanic acid)', '3-Imidazol-4-ylacrylic acid', 'Urocanic acid')
    """
    found: list[str] = []
    for part in _PARTS.split(_TAIL.sub("", title)):
        bracket = re.match(r"(.+?) \((.+)\)$", part.strip(" ,"))
        inner = re.split(r", | - ", bracket[2]) if bracket and "e.g" not in bracket[2] else []
        found += [part, *((bracket[1],) if bracket else ()), *inner]
    clean = (_balanced(_NOISE.sub("", part).strip(" ,;")) for part in found)
    return unique(part for part in clean if len(part) >= _SHORTEST and not _EMPTY.fullmatch(part))


def _balanced(part: str) -> str:
    whole = part.startswith("(") and part.endswith(")") and part.count("(") == 1
    return part if part.count("(") == part.count(")") and not whole else part.strip("()").strip()


def name_key(name: str) -> str:
    """Fold a name of the tables to the key under which the law is looked up.

    Only another spelling is taken for a name of the inventory.  A chemical name that has an INCI name does not make the
    entry one of that name, nor does what is left of one without its brackets: an ureide is no urea.
    """
    found = identify(name)
    bare = re.sub(r"\s*\(nano\)$", "", name, flags=re.IGNORECASE)
    same = loose_key(found.inci) == loose_key(bare) or (found.how == "other name" and "(" not in bare)
    return found.key if found.inci and same else inci_key(name)


def unique(items: Iterable[str]) -> tuple[str, ...]:
    """Each once, whatever its spelling, in the order in which they come."""
    found: dict[str, str] = {}
    for item in items:
        found.setdefault(inci_key(item), item)
    return tuple(found.values())
