"""Tables to be read only: the portfolio, weigh sheets of batches, two versions of a recipe side by side."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import figures, matters
from formula_vcs.model.batch import Batch
from formula_vcs.model.formula import Formula
from formula_vcs.model.quantity import Quantity
from formula_vcs.rules.judge import judge
from formula_vcs.sheets.header_words import fold
from formula_vcs.sheets.sheet_table import SheetTable, Value, as_decimal
from formula_vcs.workspace.snapshot import Snapshot

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
