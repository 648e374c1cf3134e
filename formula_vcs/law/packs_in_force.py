"""The packs in force: which rows speak of a substance, what a product type is, what a substance counts as.

The packs that ship come compiled (`compiled.json`, see `compile_packs.py`); a row becomes a value only when a
substance of a recipe asks for it, so a check pays for what it uses.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, NamedTuple

from formula_vcs.law.annex_store import annex_rows_about, annexes_name
from formula_vcs.law.identity import law_key
from formula_vcs.law.pack_rows import row_of
from formula_vcs.model.asked_day import after
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.law_row import CONTACTS, ONE, Factor, LawRow, Product, Scope
from formula_vcs.model.product import completed, younger
from formula_vcs.model.recipe import Recipe
from formula_vcs.toml.takers import nearest

# Packs whose entries, but those that they hold by hand, are looked up in the annexes as they were brought in.
ANNEXES: Final = "eu-annex-"


@lru_cache(maxsize=1)
def shipped() -> dict[str, Any]:
    """Read the compiled packs, once."""
    import json

    data: dict[str, Any] = json.loads(Path(__file__).with_name("compiled.json").read_text(encoding="utf-8"))
    return data


def pack_names() -> tuple[str, ...]:
    """Name the packs that ship."""
    return tuple(shipped()["packs"])


@lru_cache(maxsize=8)
def law_of(markets: tuple[str, ...], extra: tuple[str, ...] = ()) -> Law:
    """The packs of some markets, and others by name; what is not known is left out (a rule says so)."""
    packs = shipped()["packs"]
    names = [name for name, pack in packs.items() if pack["market"] in markets or name in extra]
    return Law(tuple(names))


class Law:
    """Some packs, by substance."""

    def __init__(self, names: tuple[str, ...]) -> None:
        """Take the packs' names."""
        self.packs = names
        # asked for the same substances again, recipe after recipe
        self.of_substance = lru_cache(maxsize=16384)(self._of_substance)
        self._annexes = frozenset(name for name in names if name.startswith(ANNEXES))
        self._made: dict[tuple[str, int], LawRow] = {}
        self._by_name: dict[str, list[tuple[str, int]]] = {}
        self._by_cas: dict[str, list[tuple[str, int]]] = {}
        self._general: list[tuple[str, int]] = []
        self._families: list[tuple[re.Pattern[str], tuple[str, int]]] = []
        packs = shipped()["packs"]
        for name in names:
            for position, row in enumerate(packs[name]["rows"]):
                where = (name, position)
                for key in row.get("names", ()):
                    self._by_name.setdefault(key, []).append(where)
                for number in row.get("cas", ()):
                    self._by_cas.setdefault(number, []).append(where)
                if "like" in row and packs[name]["market"]:
                    self._families.append((_any_of(row["like"]), where))
                elif "names" not in row and "cas" not in row:
                    self._general.append(where)

    def knows(self, key: str) -> bool:
        """Say whether a folded name stands in a row."""
        return key in self._by_name

    def about(self, names: tuple[str, ...], numbers: tuple[str, ...]) -> list[LawRow]:
        """The rows about a substance: all that have a name or a CAS number of it, of the packs and the annexes.

        The last name is the one as written: in the annexes a name that was found by the number alone does not count.
        """
        found = dict.fromkeys(where for name in names for where in self._by_name.get(name, ()))
        found |= dict.fromkeys(where for number in numbers for where in self._by_cas.get(number, ()))
        rows = [self._row(where) for where in found]
        if self._annexes:
            borne = (law_key(names[-1]), names[-1]) if names else ()
            rows += [row for row in annex_rows_about(borne, numbers) if row.pack in self._annexes]
        return rows

    def families(self, key: str) -> list[LawRow]:
        """The rows about a family that a folded name says it is of: any compound of zirconium, of mercury."""
        return [self._row(where) for pattern, where in self._families if pattern.fullmatch(key)]

    def _of_substance(self, names: tuple[str, ...], numbers: tuple[str, ...]) -> tuple[LawRow, ...]:
        """The rows about a substance and about the families that its names say it is of, each once."""
        found = {(row.id, row.pack): row for row in self.about(names, numbers)}
        found |= {(row.id, row.pack): row for one in names for row in self.families(one)}
        return tuple(found.values())

    @property
    def general(self) -> list[LawRow]:
        """The rows that are about the product as such."""
        return [self._row(where) for where in self._general]

    def all_rows(self) -> Iterator[LawRow]:
        """Every row."""
        for name in self.packs:
            for position in range(len(shipped()["packs"][name]["rows"])):
                yield self._row((name, position))

    def days(self) -> set[datetime.date]:
        """The days on which a row begins to hold, or holds no longer."""
        return {day for row in self.all_rows() for day in turning(row)}

    def _row(self, where: tuple[str, int]) -> LawRow:
        if where not in self._made:
            name, position = where
            self._made[where] = row_of(name, shipped()["packs"][name]["rows"][position])
        return self._made[where]


def _any_of(patterns: Iterable[str]) -> re.Pattern[str]:
    """One pattern for some with stars; it holds no more than one star a word, so it cannot run wild."""
    return re.compile("|".join(".*".join(map(re.escape, pattern.split("*"))) for pattern in patterns), re.DOTALL)


def turning(row: LawRow) -> Iterator[datetime.date]:
    """The days on which a row begins to hold for placing on the market, or holds no longer."""
    if row.placed.first is not None:
        yield row.placed.first
    if row.placed.last is not None:
        yield after(row.placed.last)


@lru_cache(maxsize=4096)
def factor(key: str, basis: str) -> Factor | None:
    """How much of a basis one part of a substance counts as; None where no formula is known for it."""
    if not basis:
        return ONE
    found = shipped()["substances"].get(law_key(key))
    if found is None or basis not in found[2]:
        return None
    value, doubt = found[2][basis]
    return Factor(Fraction(value), Fraction(doubt))


class Known(NamedTuple):
    """A substance that the packs name: as they write it, with the CAS numbers that are its own alone."""

    spelled: str
    cas: tuple[str, ...]


@lru_cache(maxsize=1)
def known_names() -> dict[str, Known]:
    """Every folded name of the packs and the registry."""
    found = {key: Known(spelled, tuple(cas)) for key, (spelled, cas, _) in shipped()["substances"].items()}
    for pack in shipped()["packs"].values():
        for row in pack["rows"]:
            names = row.get("spelled", ())
            for key, spelled in zip(row.get("names", ()), names, strict=True):
                own = row.get("cas", ()) if len(names) == 1 else ()
                known = found.get(key)
                found[key] = Known(spelled, tuple(dict.fromkeys((*(known.cas if known else ()), *own))))
    return found


def is_named(name: str) -> bool:
    """Say whether a pack or an annex names a substance so, or by a name of the same meaning."""
    keys = {inci_key(name), law_key(name)}
    return not keys.isdisjoint(known_names()) or any(map(annexes_name, keys))


@lru_cache(maxsize=1)
def names_by_cas() -> dict[str, str]:
    """The folded name that a CAS number belongs to, where it is one name's alone."""
    found: dict[str, str] = {}
    for key, known in known_names().items():
        for number in known.cas:
            found[number] = "" if number in found else key
    return {number: key for number, key in found.items() if key}


class Monograph(NamedTuple):
    """A kind of drug without prescription: which products are such drugs.

    ``always``: with or without an active ingredient.  ``also_cosmetic``: its actives are in cosmetics too.
    """

    where: Scope
    always: bool
    also_cosmetic: bool


@lru_cache(maxsize=1)
def monographs() -> dict[str, Monograph]:
    """The monographs of the United States by name."""
    return {
        name: Monograph(Scope(*map(tuple, one["where"])), one["always"], one["also_cosmetic"])
        for name, one in shipped()["us"]["drugs"].items()
    }


def cosmetic_too(row: LawRow) -> bool:
    """Say whether the active ingredient of a row is in cosmetics too."""
    return any(name in shipped()["us"]["cosmetic_too"] for name in row.names)


def us_label_name(key: str) -> str | None:
    """What the label of the United States calls a substance, by folded INCI name; None where as it is stated."""
    found: str | None = shipped()["us"]["label"].get(key)
    return found


@lru_cache(maxsize=1)
def _types() -> dict[str, Product]:
    made: dict[str, Product] = {}
    for name, parents, contact, dimensions, also in shipped()["types"]:
        above = [made[parent] for parent in parents]
        product = Product(
            name,
            contact or next((parent.contact for parent in above if parent.contact), ""),
            frozenset(dimensions.get("area", ())).union(*(parent.area for parent in above)),
            frozenset((name,)).union(*(parent.types for parent in above)),
            frozenset(dimensions.get("form", ())).union(*(parent.form for parent in above)),
            younger(frozenset(dimensions.get("age", ())).union(*(parent.age for parent in above))),
            frozenset(dimensions.get("user", ())).union(*(parent.user for parent in above)),
        )
        for word in (name, *also):
            made[word] = product
    return made


def product(name: str | None) -> Product | None:
    """What a product type is, None where it is not known."""
    return _types().get(name.strip().casefold()) if name is not None else None


def product_of(recipe: Recipe, areas: tuple[str, ...] = ()) -> Product | None:
    """What a recipe's product is, with what its header says of it; None where its type is not known.

    ``areas`` of the body stand in for those of a header that names none.
    """
    found = product(recipe.product)
    if found is None:
        return None
    finer = shipped()["on"].get(found.name, {})
    areas = recipe.names["area"] or areas
    for area in areas:
        if area in finer:
            found = _both(found, _types()[finer[area]])
    return completed(
        found,
        made_for=recipe.get("for"),
        spray=recipe.get("spray"),
        hydroalcoholic=recipe.get("hydroalcoholic", bool),
        areas=areas,
        form=recipe.get("form"),
        claims=recipe.claims,
    )


def finer_areas(name: str) -> tuple[str, ...]:
    """Name the areas of the body on which a product type becomes another one."""
    return tuple(shipped()["on"].get(name, ()))


@lru_cache(maxsize=1)
def type_names() -> frozenset[str]:
    """All names that a row may ask a product's type by; other words for a type are none."""
    return frozenset(name for found in _types().values() for name in found.types)


def unknown_product(scope: Scope) -> str:
    """Say which product a scope asks for that there is none of, as it would be about none; nothing where all are known.

    Only where a product stays and its type are lists of this program's own.
    """
    for dimension, words, known in (("contact", scope.contact, CONTACTS), ("type", scope.type, type_names())):
        strange = next((word for word in words if word not in known), None)
        if strange is not None:
            return f"no product is of the {dimension} '{strange}'{nearest(strange, known)}"
    return ""


def never_spray(name: str | None) -> bool:
    """Say whether a product's own word says that it is no spray: a balm, a stick, a paste."""
    words = name.casefold().split() if name is not None else ()
    return any(word in shipped()["never_spray"] for word in words)


def _both(one: Product, other: Product) -> Product:
    """A product that is two types at once; it keeps the name of the first."""
    return Product(
        one.name, one.contact or other.contact, one.area | other.area, one.types | other.types, one.form | other.form,
        one.age | other.age, one.user | other.user, one.claim | other.claim,
    )  # fmt: skip


def product_names() -> tuple[str, ...]:
    """The product types that a recipe can name, other words for them included."""
    return tuple(name for name, found in _types().items() if found.contact)
