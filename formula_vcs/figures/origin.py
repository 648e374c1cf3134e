"""The four ISO 16128-2 contents, each with and without formulation water, and the water itself.

Formulas: content = sum(w_i x index_i); without water, the sum runs over what is not formulation water and is
taken on the rest of the product (ISO 16128-2:2017, clause 5).  Water inside a bought solution stays in, as that
standard leaves it open; only material marked ``formulation_water`` goes out.
"""

from __future__ import annotations

from fractions import Fraction

from formula_vcs.figures.figure import Figure, Terms, mean, unsettled
from formula_vcs.figures.sums import Sums
from formula_vcs.model.ingredient import is_water

NOT_READ = "no such ingredient, or its file does not parse"


def _index(sums: Sums, name: str, index: str) -> Fraction | str:
    found = sums.formula.ingredients.get(name)
    if found is None or not found.readable:
        return NOT_READ
    value = found.index(index)
    return value if value is not None else f"no {index.replace('_', '-')} index in [origin]"


def _contents(sums: Sums, index: str) -> tuple[Fraction, list[str]]:
    mixed = mean(sums.leaves, lambda name: _index(sums, name, index))
    return mixed.value * 100, mixed.missing + unsettled(sums)


def content(sums: Sums, _: Terms, index: str) -> Figure:
    """Give an ISO 16128 content in % of the product."""
    value, missing = _contents(sums, index)
    return Figure(index, None if missing else value, "%", tuple(missing))


def content_without_water(sums: Sums, _: Terms, index: str) -> Figure:
    """Give an ISO 16128 content in % of what is not formulation water."""
    name = f"{index}_without_water"
    value, missing = _contents(sums, index)
    water = _formulation_water(sums)
    from_water = sum(
        (
            share * (sums.formula.ingredients[material].index(index) or 0)
            for material, share in sums.leaves.items()
            if _is_formulation_water(sums, material)
        ),
        Fraction(0),
    )
    if missing:
        return Figure(name, None, "%", tuple(missing))
    if water == 1:
        return Figure(name, None, "%", ("nothing is left without formulation water",))
    return Figure(name, (value - from_water * 100) / (1 - water), "%")


def _is_formulation_water(sums: Sums, name: str) -> bool:
    found = sums.formula.ingredients.get(name)
    return found is not None and found.formulation_water


def _formulation_water(sums: Sums) -> Fraction:
    return sum((share for name, share in sums.leaves.items() if _is_formulation_water(sums, name)), Fraction(0))


def formulation_water(sums: Sums, _: Terms) -> Figure:
    """Give the water added as such, in % of the product."""
    missing = unsettled(sums) + [
        f"{name}: {NOT_READ}" for name, share in sums.leaves.items() if share and name not in sums.formula.ingredients
    ]
    return Figure("formulation_water", None if missing else _formulation_water(sums) * 100, "%", tuple(missing))


def water(sums: Sums, _: Terms) -> Figure:
    """Give all water in % of the product, that inside bought solutions and premixes included."""
    missing = unsettled(sums) + [f"{name}: no composition" for name in sums.unnamed]
    value = sum((pct for inci, pct in sums.substances.items() if is_water(inci)), Fraction(0))
    return Figure("water", None if missing else value, "%", tuple(missing))
