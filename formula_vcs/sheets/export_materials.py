"""Raw materials as tables: what they are, what is in them, what they cost, their allergens."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.ingredient import ORIGIN_INDICES
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.list_reader import quantity_of
from formula_vcs.sheets.sheet_table import SheetTable, Value, as_decimal, plain
from formula_vcs.words.late_pattern import late_pattern

_WHO: Final = ("Ingredient id", "Material")
_COST: Final = late_pattern(r"([\d.]+)\s*([A-Z]{3})/(.+)")


def material_tables(draft: Draft) -> list[SheetTable]:
    """Give the four tables of all materials."""
    return [_materials(draft), composition_table(draft), price_table(draft), allergen_table(draft)]


def _materials(draft: Draft) -> SheetTable:
    heads = (
        *_WHO, "Supplier", "Code", "Functions", "Density (g/mL)", "Natural index", "Natural origin index",
        "Organic index", "Organic origin index",
    )  # fmt: skip
    rows = [
        (
            name,
            _text(data.get("title")),
            _text(data.get("supplier")),
            _text(data.get("code")),
            "; ".join(_functions(data)),
            _density(data),
            *(_index(data, index) for index in ORIGIN_INDICES),
        )
        for name, data in draft.ingredients()
    ]
    return SheetTable("Materials", heads, rows)


def composition_table(draft: Draft) -> SheetTable:
    """Give what materials hold, a row a substance, as their files state it; premixes have a recipe instead."""
    rows = [
        (name, _text(data.get("title")), substance, pct, cas)
        for name, data in draft.ingredients()
        for substance, pct, cas in _contents(data.get("substances"))
    ]
    return SheetTable("Composition", (*_WHO, "INCI", "% in material", "CAS"), rows)


def price_table(draft: Draft) -> SheetTable:
    """Give every price on file, those of past days and of quantity breaks too."""
    rows: list[tuple[Value, ...]] = []
    for name, data in draft.ingredients():
        prices = data.get("price")
        known = [row for row in prices if isinstance(row, dict)] if isinstance(prices, list) else []
        rows += [(name, _text(data.get("title")), *_cost(row), _least(row), _day(row)) for row in known]
    return SheetTable("Prices", (*_WHO, "Price", "Currency", "Per", "From quantity", "Valid from"), rows)


def allergen_table(draft: Draft) -> SheetTable:
    """Give the allergens that materials state."""
    rows = [
        (name, _text(data.get("title")), allergen, cas, pct)
        for name, data in draft.ingredients()
        for allergen, pct, cas in _contents(data.get("allergens"))
    ]
    return SheetTable("Allergens", (*_WHO, "Allergen", "CAS", "%"), rows)


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def number(value: Any) -> Decimal | None:
    """Give a number of a file; None where it is none."""
    return Decimal(value) if isinstance(value, (int, Decimal)) and not isinstance(value, bool) else None


def _functions(data: Mapping[str, Any]) -> list[str]:
    found = data.get("functions", [])
    found = [found] if isinstance(found, str) else found
    return [str(one) for one in found] if isinstance(found, list) else []


def _density(data: Mapping[str, Any]) -> Decimal | None:
    found = quantity_of(str(data.get("density", "")), ("density",))
    return None if found is None else as_decimal(found.base / 1000)


def _index(data: Mapping[str, Any], index: str) -> Decimal | None:
    origin = data.get("origin")
    value = origin.get(index) if isinstance(origin, dict) else None
    if isinstance(value, str):
        over, slash, under = value.partition("/")
        whole = slash and over.strip().isdigit() and under.strip().isdigit() and int(under) > 0
        return as_decimal(Fraction(int(over), int(under))) if whole else None
    return number(value)


def _contents(table: Any) -> Iterator[tuple[str, Decimal | str | None, str]]:
    for name, value in table.items() if isinstance(table, dict) else ():
        pct = value.get("pct") if isinstance(value, dict) else value
        cas = value.get("cas") if isinstance(value, dict) else None
        yield name, number(pct) if number(pct) is not None else _text(pct), cas if isinstance(cas, str) else ""


def _cost(row: Mapping[str, Any]) -> tuple[Value, str, str]:
    cost = _text(row.get("cost")) or ""
    found = _COST.fullmatch(cost.strip())
    if found is None or quantity_of(cost, ("price", "price by volume")) is None:
        return cost, "", ""
    return Decimal(found[1]), found[2], found[3]


def _least(row: Mapping[str, Any]) -> str | None:
    least = _text(row.get("from"))
    found = quantity_of(least or "", ("mass", "volume"))
    return least if found is None else f"{plain(found.value)} {found.unit}"


def _day(row: Mapping[str, Any]) -> datetime.date | None:
    since = row.get("since")
    return since if isinstance(since, datetime.date) else None
