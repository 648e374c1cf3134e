"""What is exported: recipes, materials, overviews."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import figures, matters
from formula_vcs.model.batch import Batch
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import ORIGIN_INDICES
from formula_vcs.model.quantity import Quantity
from formula_vcs.rules.judge import judge
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.header_words import fold
from formula_vcs.sheets.list_reader import quantity_of
from formula_vcs.sheets.write_tables import SheetTable, Value, as_decimal, plain
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.workspace.snapshot import Snapshot

# --- Recipes as tables: their charges as the files state them, by percent, by mass, by parts


_HEADS: Final = ("Recipe id", "Recipe", "Phase", "Phase title", "Ingredient id", "Material", "INCI")
_MODES: Final = {
    "percent": ("Recipes", "%"),
    "mass": ("Recipes by mass", "Amount"),
    "parts": ("Recipes by parts", "Amount (parts)"),
    "w/v": ("Recipes in % w-v", "Amount (g in 100 mL)"),
}
WORKED_OUT: Final = "Worked out (%)"
# "1.250 kg" could be read as 1250: a fourth decimal makes it clear.
_THREE_PLACES: Final = late_pattern(r"(?<![\d.])\d+\.\d{3}(?![\d.])")


def recipe_tables(draft: Draft, ids: tuple[str, ...] = ()) -> list[SheetTable]:
    """Give a table for each way to write amounts that a recipe has; the first is always there."""
    rows: dict[str, list[tuple[Value, ...]]] = {mode: [] for mode in _MODES}
    for name, path in draft.ids("recipe").items():
        data = draft.data(path) if not ids or name in ids else None
        if data is None:
            continue
        mode = str(data.get("amounts", "percent"))
        if mode in rows:
            rows[mode] += _recipe(name, data, draft)
    return [
        SheetTable(sheet, (*_HEADS, head, WORKED_OUT), rows[mode])
        for mode, (sheet, head) in _MODES.items()
        if rows[mode] or mode == "percent"
    ]


def _recipe(name: str, data: Mapping[str, Any], draft: Draft) -> list[tuple[Value, ...]]:
    recipe = draft.snapshot.recipe(name)
    lines = () if recipe is None else Breakdown(draft.snapshot.formula(recipe)).composition.lines
    shares = {line.charge.key: line.pct for line in lines}
    title = data.get("title")
    found: list[tuple[Value, ...]] = []
    phases = data.get("phase")
    for phase, inner in phases.items() if isinstance(phases, dict) else ():
        charges = inner.get("charge") if isinstance(inner, dict) else None
        heading = inner.get("title") if isinstance(inner, dict) else None
        for ingredient, amount in charges.items() if isinstance(charges, dict) else ():
            pct = shares.get(f"{phase}/{ingredient}")
            found.append((
                name, title if isinstance(title, str) else None, phase, heading if isinstance(heading, str) else None,
                ingredient, *_material(ingredient, draft), _amount(amount), None if pct is None else as_decimal(pct),
            ))  # fmt: skip
    return found


def _material(ingredient: str, draft: Draft) -> tuple[str | None, str | None]:
    found = draft.snapshot.ingredient(ingredient)
    if found is None:
        return None, None
    return found.title, ", ".join(found.substances) or None


def _amount(amount: Any) -> Decimal | str | None:
    value = amount.get("pct", amount.get("amount")) if isinstance(amount, dict) else amount
    known = number(value)
    if known is not None or not isinstance(value, str):
        return known
    return _THREE_PLACES.sub(r"\g<0>0", value)


# --- Raw materials as tables: what they are, what is in them, what they cost, their allergens


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


# --- Tables to be read only: the portfolio, weigh sheets of batches, two versions of a recipe side by side


_SHOWN: Final = ("cost_per_kg", "cost_per_pack", "density", "natural", "natural_origin", "organic", "organic_origin")
_BLOCKS: Final = "Findings that block"
_CHANGE: Final = "Change (percentage points)"
TO_BE_READ: Final = frozenset({fold(_BLOCKS), fold(_CHANGE), fold("Change")})
"""Heads, folded, of tables that no import takes."""


def portfolio_table(snapshot: Snapshot, terms: Terms) -> SheetTable:
    """Give one row a recipe: what it is, what it costs and holds, whether `check` lets it pass on a day."""
    rows: list[tuple[Value, ...]] = []
    units: dict[str, str] = {}
    for recipe in snapshot.recipes():
        formula = snapshot.formula(recipe)
        sums = Breakdown(formula)
        found = figures(sums, terms, _SHOWN)
        units.update({name: figure.unit for name, figure in found.items() if figure.unit})
        severities = [finding.severity for finding in judge(formula, terms.day, sums)]
        rows.append((
            recipe.id, recipe.title, recipe.product, *(_value(found[name]) for name in _SHOWN),
            Decimal(severities.count("block")), Decimal(severities.count("warn")),
            "; ".join(_lacking(found)) or None,
        ))  # fmt: skip
    heads = [f"{name.replace('_', ' ').capitalize()}{_unit(units.get(name, ''))}" for name in _SHOWN]
    return SheetTable(
        "Portfolio",
        ("Recipe id", "Recipe", "Product", *heads, _BLOCKS, "Findings that warn", "Not known"),
        rows,
    )


def _unit(unit: str) -> str:
    return f" ({unit})" if unit else ""


def _value(figure: Figure) -> Decimal | None:
    return None if figure.value is None else as_decimal(figure.value)


def _lacking(found: dict[str, Figure]) -> list[str]:
    lacking = {name: figure.missing[:3] for name, figure in found.items() if figure.missing}
    return [f"{name.replace('_', ' ')}: {', '.join(missing)}" for name, missing in lacking.items()]


def weighing_tables(snapshot: Snapshot, ids: Sequence[str]) -> list[SheetTable]:
    """Give a table a batch: what was to be weighed and what was, in g, in the form that import takes back."""
    tables = []
    for name in ids:
        record = snapshot.record("batches", name)
        if record is not None:
            tables.append(_batch(Batch(name, record.facts), snapshot))
    return tables


def _batch(batch: Batch, snapshot: Snapshot) -> SheetTable:
    rows: list[tuple[Value, ...]] = []
    for charge in batch.charges:
        material = snapshot.ingredient(charge.ingredient)
        for portion in charge.weighings:
            target = portion.target or (None if charge.portions else charge.target)
            rows.append((
                charge.phase, charge.ingredient, None if material is None else material.title, portion.step,
                _grams(target), _grams(portion.weighed), portion.lot,
            ))  # fmt: skip
    heads = ("Phase", "Ingredient id", "Material", "Step", "Target (g)", "Weighed (g)", "Lot")
    return SheetTable(batch.id, heads, rows, (("Batch", batch.id),))


def _grams(mass: Quantity | None) -> Decimal | None:
    return None if mass is None else as_decimal(mass.base * 1000)


def comparison_tables(before: tuple[str, Formula], after: tuple[str, Formula], terms: Terms) -> list[SheetTable]:
    """Give charges and figures of two versions side by side, each under its name, exact on both sides."""
    old, new = Breakdown(before[1]), Breakdown(after[1])
    return [_charges(before, after, old, new), _figures(before[0], after[0], figures(old, terms), figures(new, terms))]


def _charges(before: tuple[str, Formula], after: tuple[str, Formula], old: Breakdown, new: Breakdown) -> SheetTable:
    charges = {charge.key: charge for _, formula in (after, before) for charge in formula.recipe.charges}
    here = {charge.key for charge in before[1].recipe.charges}
    there = {charge.key for charge in after[1].recipe.charges}
    was, now = ({line.charge.key: line.pct for line in sums.composition.lines} for sums in (old, new))
    rows: list[tuple[Value, ...]] = []
    for key, charge in charges.items():
        one = was.get(key) if key in here else Fraction(0)
        other = now.get(key) if key in there else Fraction(0)
        known = after[1].ingredients.get(charge.ingredient) or before[1].ingredients.get(charge.ingredient)
        change = None if one is None or other is None else other - one
        rows.append((
            charge.phase, charge.ingredient, None if known is None else known.title,
            _or_none(one, shown=key in here), _or_none(other, shown=key in there), _or_none(change, shown=True),
        ))  # fmt: skip
    heads = ("Phase", "Ingredient id", "Material", f"% in {before[0]}", f"% in {after[0]}", _CHANGE)
    return SheetTable("Charges", heads, rows)


def _or_none(value: Fraction | None, *, shown: bool) -> Decimal | None:
    return as_decimal(value) if shown and value is not None else None


def _figures(before: str, after: str, old: dict[str, Figure], new: dict[str, Figure]) -> SheetTable:
    rows: list[tuple[Value, ...]] = []
    for name, figure in new.items():
        other = old[name]
        if not matters(figure) and not matters(other):
            continue
        change = None if figure.value is None or other.value is None else as_decimal(figure.value - other.value)
        missing = "; ".join(dict.fromkeys((*other.missing, *figure.missing)))
        unit = figure.unit or other.unit
        rows.append((name.replace("_", " "), unit, _value(other), _value(figure), change, missing or None))
    return SheetTable("Figures", ("Figure", "Unit", before, after, "Change", "Not known"), rows)
