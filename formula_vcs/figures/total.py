"""The total of a recipe, in its own measure."""

from __future__ import annotations

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms


def total(sums: Breakdown, _: Terms) -> Figure:
    """The sum of all amounts: %, parts, or g in a recipe by mass."""
    composition = sums.composition
    value = composition.total
    unit = composition.measure
    if unit == "kg":
        value, unit = value * 1000, "g"
    missing = tuple(f"{charge.ingredient}: the amount is not settled" for charge in composition.unknown)
    return Figure("total", None if composition.why_open else value, unit, missing)
