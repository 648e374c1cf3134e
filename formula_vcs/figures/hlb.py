"""HLB: what the oil phase asks for, and what the emulsifiers have (Griffin 1949, 1954).

For non-ionic emulsifiers.  Polymeric ones, lamellar gel networks and self-emulsifying waxes do not follow it, and
sources of a value differ by 2 either way.  An ingredient's own `required_hlb` or `hlb` goes before the table.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms, unsettled
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.product import OIL_IN_WATER
from formula_vcs.toml.package_data import load

CAUTION: Final = "Griffin's method, for non-ionic emulsifiers; sources differ by 2"
_OILS: Final = frozenset({"emollient", "oil", "wax", "structurant", "butter"})
_EMULSIFIERS: Final = frozenset({"emulsifier", "co-emulsifier"})


def required_hlb(sums: Breakdown, _: Terms) -> Figure:
    """The HLB that the oils ask for together: sum(w r) / sum(w), over oils and waxes that are no emulsifiers."""
    kind = sums.formula.recipe.get("emulsion")
    if kind is not None and kind != OIL_IN_WATER:
        why = f"what oils ask for is tabulated for O/W emulsions, and this one is {kind}"
        return Figure("required_hlb", None, "", (why,), (CAUTION,), estimate=True)
    return _mean(sums, "required_hlb", "required", lambda m: bool(_OILS & m.called) and not _EMULSIFIERS & m.called)


def emulsifier_hlb(sums: Breakdown, _: Terms) -> Figure:
    """The HLB of the emulsifiers together, by mass."""
    return _mean(sums, "emulsifier_hlb", "emulsifier", lambda m: bool(_EMULSIFIERS & m.called))


def _mean(sums: Breakdown, name: str, table: str, wanted: Callable[[Ingredient], bool]) -> Figure:
    missing = unsettled(sums)
    weight = value = Fraction(0)
    for ingredient, share in sums.leaves.items():
        material = sums.formula.ingredients.get(ingredient)
        if material is None or not share or not wanted(material):
            continue
        one = _of(material, name, table)
        if one is None:
            missing.append(f"{ingredient}: no {name.replace('_', ' ').replace('hlb', 'HLB')}")
            continue
        weight += share
        value += share * one
    if not weight and not missing:
        missing.append("no oil phase" if table == "required" else "no emulsifier")
    return Figure(name, None if missing else value / weight, "", tuple(missing), (CAUTION,), estimate=True)


def _of(material: Ingredient, name: str, table: str) -> Fraction | None:
    stated = material.number("required_hlb" if name == "required_hlb" else "hlb")
    if stated is not None:
        return stated
    known = load("hlb")[table]
    parts = [(pct, known.get(inci_key(inci))) for inci, pct in material.substances.items()]
    if not parts or any(one is None for _, one in parts):
        return None
    whole = sum((Fraction(pct) for pct, _ in parts), Fraction(0))
    return sum((Fraction(pct) * Fraction(str(one)) for pct, one in parts), Fraction(0)) / whole if whole else None
