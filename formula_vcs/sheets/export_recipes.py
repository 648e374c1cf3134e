"""Recipes as tables: their charges as the files state them, by percent, by mass, by parts."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.export_materials import number
from formula_vcs.sheets.sheet_table import SheetTable, Value, as_decimal
from formula_vcs.words.late_pattern import late_pattern

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
