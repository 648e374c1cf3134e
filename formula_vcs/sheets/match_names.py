"""Which ingredient on file a row of a sheet means: by what was said, id, code, title, INCI name; never by likeness."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from formula_vcs.law.identity import identify
from formula_vcs.model.values import dataclass
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.find_tables import TableLine
from formula_vcs.sheets.header_words import fold
from formula_vcs.words.late_pattern import late_pattern

NEW: Final = "new"
"""What a person says of a name that means no ingredient on file."""
_MOST_GRADES: Final = 50
_MOST_NEAR: Final = 200  # a look at all titles takes 10 to 20 ms where some hundreds are on file
_SPLIT_INCI: Final = late_pattern(r"\s*(?:,(?!\d)|;|\+|\n|\band\b|\bund\b|\s/\s)\s*")


@dataclass(frozen=True, slots=True)
class NameMatch:
    """The ingredient that is meant, by ``how``; or several, which only a person can tell apart; or none.

    Of none, ``near`` is called alike, and ``same`` have the INCI names of the row under other names.
    """

    id: str = ""
    how: str = ""
    several: tuple[str, ...] = ()
    near: str = ""
    same: tuple[str, ...] = ()


class NameMatcher:
    """Finds ingredients of a draft by what sheets call them; sees those that the draft adds."""

    def __init__(self, draft: Draft, names: Mapping[str, str]) -> None:
        """Take the draft, and names that a person has matched already."""
        self._draft = draft
        self._names = {fold(name): id_ for name, id_ in names.items()}
        self._known: set[str] = set()
        self._looked = 0
        self._by: dict[str, dict[str, list[str]]] = {"id": {}, "code": {}, "title": {}, "inci": {}}

    def find(self, line: TableLine, *, supplier: str = "") -> NameMatch:
        """Find what a line means: id, then the name given by a person, code, title, INCI name."""
        return self.find_by(
            id_=line.text("id"),
            code=line.text("code"),
            name=line.text("name"),
            inci=line.text("inci"),
            supplier=supplier or line.text("supplier"),
        )

    def find_by(
        self, *, id_: str = "", code: str = "", name: str = "", inci: str = "", supplier: str = ""
    ) -> NameMatch:
        """Find an ingredient by what is said of it; what is not said is empty."""
        ids = self._draft.ids("ingredients")
        if id_ and id_ in ids:
            return NameMatch(id_, "id")
        for word in (name, inci, code):
            given = self._names.get(fold(word)) if word else None
            if given is not None and given in ids:
                return NameMatch(given, "as told")
        index = self._index()
        new = any(self._names.get(fold(word)) == NEW for word in (name, inci, code) if word)
        for kind, word in (("code", code), ("title", name), ("code", name), ("id", name)):
            found = self._narrowed(index[kind].get(fold(word), []), supplier) if word else []
            if new and kind == "id":
                return NameMatch()
            if len(found) == 1 and kind == "id":
                grades = self._by_inci(inci or name, supplier, name)
                return grades if len(grades.several) > 1 else NameMatch(found[0], kind)
            if len(found) == 1:
                return NameMatch(found[0], kind)
            if found:
                return NameMatch(several=tuple(found))
        if name and inci and identify(name).key not in inci_set(inci).split("; "):
            # a trade name that is not on file: another grade may be meant, or the one that is on file
            same = self._by_inci(inci, supplier, name)
            return NameMatch(near=self._near(name), same=tuple(one for one in (same.id, *same.several) if one))
        return self._by_inci(inci or name, supplier, name or inci)

    def _by_inci(self, inci: str, supplier: str, name: str) -> NameMatch:
        wanted = inci_set(inci)
        found = self._narrowed(self._index()["inci"].get(wanted, []), supplier) if wanted else []
        if len(found) == 1:
            return NameMatch(found[0], "INCI")
        return NameMatch(several=tuple(sorted(found))) if found else NameMatch(near=self._near(name))

    def _narrowed(self, ids: list[str], supplier: str) -> list[str]:
        if not 2 <= len(ids) <= _MOST_GRADES or not supplier:
            return ids
        same = [one for one in ids if fold(self._data(one).get("supplier", "")) == fold(supplier)]
        return same or ids

    def _data(self, name: str) -> dict[str, Any]:
        path = self._draft.ids("ingredients").get(name)
        return (self._draft.data(path) if path is not None else None) or {}

    def _near(self, name: str) -> str:
        from difflib import get_close_matches

        self._looked += 1
        if self._looked > _MOST_NEAR:
            return ""

        titles = self._index()["title"]
        found = get_close_matches(fold(name[:80]), titles, n=1, cutoff=0.8)
        return titles[found[0]][0] if found else ""

    def _index(self) -> dict[str, dict[str, list[str]]]:
        """Give ids by kind and word; a material that the draft adds comes in when the next is looked for."""
        ids = self._draft.ids("ingredients")
        if len(ids) != len(self._known):
            for name in [one for one in ids if one not in self._known]:
                self._known.add(name)
                data = self._draft.data(ids[name])
                if data is not None:
                    self._take_up(name, data)
        return self._by

    def _take_up(self, name: str, data: Mapping[str, Any]) -> None:
        substances = data.get("substances")
        known = inci_set(", ".join(substances)) if isinstance(substances, dict) else ""
        words = (("id", fold(name)), ("code", _folded(data.get("code"))), ("title", _folded(data.get("title"))))
        for kind, word in (*words, ("inci", known)):
            if word:
                self._by[kind].setdefault(word, []).append(name)


def _folded(value: Any) -> str:
    return fold(value) if isinstance(value, str) else ""


def inci_names(text: str) -> list[str]:
    """Take an INCI list apart: "Aqua, Glycerin" or "Aqua (and) Glycerin".

    >>> inci_names("Aqua (and) Glycerin; 1,2-Hexanediol")
    ['Aqua', 'Glycerin', '1,2-Hexanediol']
    """
    plain = re.sub(r"\(\s*(?:and|und|et|y|e)\s*\)", ",", text, flags=re.IGNORECASE)
    return [name for name in (part.strip() for part in _SPLIT_INCI.split(plain)) if name]


def inci_set(text: str) -> str:
    """Give INCI names as one key whatever their order, spelling and language."""
    return "; ".join(sorted({identify(name).key for name in inci_names(text)}))
