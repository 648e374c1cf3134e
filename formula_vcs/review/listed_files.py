"""What is in a workspace, a line each: recipes with cost and verdict, materials with price and use, records."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.cost import choose
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import figures
from formula_vcs.model.amount import Amount
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.rules.judge import judge
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.numbers import shown
from formula_vcs.workspace.snapshot import Snapshot

KINDS: Final = ("recipes", "premixes", "ingredients", "equipment", "packaging", "lots", "batches", "evidence", "rules")
_COMPARED: Final = late_pattern(r"(?P<key>[^<>=]+)(?P<sign><=|>=|<|>|=)(?P<value>.*)")
_FIGURES: Final = ("cost_per_kg", "cost_per_pack", "natural", "natural_origin", "organic", "organic_origin", "density")


@dataclass(frozen=True)
class ListedFile:
    """One line: its kind, id and title, what else it shows by name, and all that it can be found by.

    ``said`` holds pairs of a dotted name and a text, ``numbers`` those of them that are numbers, in their own unit.
    """

    kind: str
    id: str
    title: str
    file: str
    columns: tuple[tuple[str, str], ...]
    said: tuple[tuple[str, str], ...]
    numbers: tuple[tuple[str, Fraction], ...]

    def fits(self, word: str) -> bool:
        """Say whether a word, ``key=value`` or ``key>number`` fits the file; case does not count."""
        compared = _COMPARED.fullmatch(word)
        if compared is None:
            wanted = word.casefold()
            return any(wanted in text.casefold() for pair in self.said for text in pair)
        key, sign, value = compared["key"].strip(), compared["sign"], compared["value"].strip()
        if sign == "=":
            found = (text for name, text in self.said if _named(name, key))
            return any(value.casefold() in text.casefold() for text in found)
        bound = Fraction(value)
        return any(_ORDER[sign](number, bound) for name, number in self.numbers if _named(name, key))


_ORDER: Final[Mapping[str, Callable[[Fraction, Fraction], bool]]] = {
    "<": lambda one, other: one < other,
    "<=": lambda one, other: one <= other,
    ">": lambda one, other: one > other,
    ">=": lambda one, other: one >= other,
}


def wrong_word(word: str) -> str:
    """Say what is wrong with a word to filter by; nothing where it can be used."""
    compared = _COMPARED.fullmatch(word)
    if compared is None or compared["sign"] == "=":
        return ""
    number = re.fullmatch(r"\s*-?\d{1,12}(?:\.\d{1,12})?\s*", compared["value"])
    return "" if number else f"'{word}': a number is wanted behind {compared['sign']}, like 'cost_per_kg<2.5'"


def _named(name: str, key: str) -> bool:
    """Say whether a key means a dotted name: all of it, its end, or a part of it."""
    folded, wanted = name.casefold(), key.casefold()
    return folded == wanted or folded.endswith(f".{wanted}") or wanted in folded.split(".")


def listed(snapshot: Snapshot, kinds: Iterable[str], terms: Terms) -> Iterator[ListedFile]:
    """List files of some kinds, kind by kind, by their ids.  Recipes are judged as of the day."""
    chosen = set(kinds)
    if chosen & {"recipes", "premixes"}:
        yield from sorted(_recipes(snapshot, chosen, terms), key=lambda one: (one.kind != "recipe", one.id))
    if "ingredients" in chosen:
        yield from _ingredients(snapshot, terms.day)
    for kind, lines in _RECORDS.items():
        if kind in chosen:
            for name in sorted(snapshot.ids(kind)):
                yield from lines(snapshot, name)


def _recipes(snapshot: Snapshot, chosen: set[str], terms: Terms) -> Iterator[ListedFile]:
    for name, path in snapshot.ids("recipe").items():
        recipe = snapshot.recipe(name)
        if recipe is None:
            if "recipes" in chosen:
                columns = (("product", ""), ("cost", ""), ("check", "does not parse"))
                yield ListedFile("recipe", name, "", path, columns, (("id", name),), ())
        elif ("premixes" if recipe.is_premix else "recipes") in chosen:
            yield _recipe(snapshot, recipe, terms)


def _recipe(snapshot: Snapshot, recipe: Recipe, terms: Terms) -> ListedFile:
    formula = snapshot.formula(recipe)
    sums = Breakdown(formula)
    found = figures(sums, terms, _FIGURES)
    cost = found["cost_per_kg"]
    severities = [finding.severity for finding in judge(formula, terms.day, sums)]
    verdict = _verdict(severities.count("block"), severities.count("warn"))
    price = "cost not known" if cost.value is None else f"{shown(cost.value, 2, 4)} {cost.unit}"
    columns = (("product", recipe.product or ""), ("cost", price), ("check", verdict))
    said, numbers = _searchable(recipe.id, recipe.facts, columns)
    numbers += [(name, figure.value) for name, figure in found.items() if figure.value is not None]
    for inci, pct in sums.substances.items():
        said.append(("inci", inci))
        numbers.append((f"inci.{inci}", pct))
    kind = "premix" if recipe.is_premix else "recipe"
    return ListedFile(kind, recipe.id, recipe.title, recipe.file, columns, tuple(said), tuple(numbers))


def _verdict(blocks: int, warnings: int) -> str:
    if blocks:
        return f"{blocks} block" + (f", {warnings} warn" if warnings else "")
    return f"{warnings} warn" if warnings else "passes"


def _ingredients(snapshot: Snapshot, day: datetime.date) -> Iterator[ListedFile]:
    uses: dict[str, int] = {}
    for recipe in snapshot.recipes():
        for name in {charge.ingredient for charge in recipe.charges}:
            uses[name] = uses.get(name, 0) + 1
    for name in sorted(snapshot.ids("ingredients")):
        material = snapshot.ingredient(name)
        if material is not None:
            yield _ingredient(material, uses.get(name, 0), day)


def _ingredient(material: Ingredient, uses: int, day: datetime.date) -> ListedFile:
    price = choose(material, day, None) if material.prices else ""
    cost = price if isinstance(price, str) else str(price.price.cost)
    used = f"{uses} recipe" if uses == 1 else f"{uses} recipes"
    columns = (("supplier", material.get("supplier") or ""), ("price", cost), ("used", used))
    said, numbers = _searchable(material.id, material.facts, columns)
    numbers.append(("used", Fraction(uses)))
    if not isinstance(price, str):
        numbers.append(("price", Fraction(price.price.cost.value)))
    return ListedFile("ingredient", material.id, material.title, material.file, columns, tuple(said), tuple(numbers))


def _record(kind: str, keys: tuple[str, ...], title: str = "title") -> Callable[[Snapshot, str], Iterator[ListedFile]]:
    def lines(snapshot: Snapshot, name: str) -> Iterator[ListedFile]:
        path = snapshot.ids(_FOLDERS[kind])[name]
        facts = snapshot.read(path).facts
        columns = tuple((key, _text(facts.get((key,)))) for key in keys)
        if kind == "batch":
            columns = (*columns[:-1], ("state", f"closed {columns[-1][1]}" if columns[-1][1] else "open"))
        said, numbers = _searchable(name, facts, columns)
        yield ListedFile(kind, name, _text(facts.get((title,))), path, columns, tuple(said), tuple(numbers))

    return lines


def _rows(kind: str, table: str, title: str, keys: tuple[str, ...]) -> Callable[[Snapshot, str], Iterator[ListedFile]]:
    """List the rows of a file, each a line of its own: proofs, house rules."""

    def lines(snapshot: Snapshot, name: str) -> Iterator[ListedFile]:
        path = snapshot.ids(_FOLDERS[kind])[name]
        facts = snapshot.read(path).facts
        whole: Facts = {key: value for key, value in facts.items() if len(key) == 1}
        rows: dict[str, dict[Path, object]] = {}
        for key, value in facts.items():
            if key[0] == table and len(key) > 1:
                rows.setdefault(key[1], {})[key[2:]] = value
        for row, own in rows.items():
            columns = tuple((key, _text(own.get((key,)))) for key in keys)
            said, numbers = _searchable(f"{name} {row}", {**whole, **own}, columns)
            shown_title = _text(own.get((title,))) or _text(whole.get((title,)))
            yield ListedFile(kind, f"{name}/{row}", shown_title, path, columns, tuple(said), tuple(numbers))

    return lines


_FOLDERS: Final = {
    "equipment": "equipment", "packaging": "packaging", "lot": "lots",
    "batch": "batches", "proof": "evidence", "rule": "rules",
}  # fmt: skip
_RECORDS: Final[Mapping[str, Callable[[Snapshot, str], Iterator[ListedFile]]]] = {
    "equipment": _record("equipment", ("kind", "volume", "capacity")),
    "packaging": _record("packaging", ("holds", "overfill", "loss")),
    "lots": _record("lot", ("status", "received", "expires"), "ingredient"),
    "batches": _record("batch", ("date", "size", "closed"), "recipe"),
    "evidence": _rows("proof", "proof", "recipe", ("kind", "passed", "until")),
    "rules": _rows("rule", "rule", "note", ("kind", "at_most", "severity")),
}


def _searchable(
    name: str, facts: Facts, columns: Iterable[tuple[str, str]]
) -> tuple[list[tuple[str, str]], list[tuple[str, Fraction]]]:
    said = [("id", name), *columns]
    numbers: list[tuple[str, Fraction]] = []
    for path, value in facts.items():
        dotted = ".".join(path)
        if value is True and len(path) > 1:
            said.append((".".join(path[:-1]), path[-1]))
            continue
        said.append((dotted, _text(value)))
        number = _number(value)
        if number is not None:
            numbers.append((dotted, number))
    return said, numbers


def _number(value: object) -> Fraction | None:
    if isinstance(value, Amount):
        return Fraction(value.value) if value.kind in ("percent", "parts") else None
    if isinstance(value, Quantity):
        return Fraction(value.value)
    if isinstance(value, (Decimal, Fraction)):
        return Fraction(value)
    return None


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, Unread):
        return str(value.raw)
    if isinstance(value, tuple):
        return "; ".join(map(_text, value))
    return str(value)
