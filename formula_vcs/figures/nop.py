"""The organic share by the USDA National Organic Program: organic matter by weight, water and salt left out.

7 CFR 205.302(a): organic ingredients / all ingredients x 100, both without water and salt; 205.302(b): rounded down to
a whole number (the 2023 wording of (a) is from memory).  Water that rebuilds a juice is water here: certifiers differ,
so it is never counted.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import floor

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms, unsettled
from formula_vcs.figures.interval import Interval, between, known, ratio, total
from formula_vcs.model.ingredient import Ingredient, is_water

HUNDRED = Fraction(100)


def _shares(material: Ingredient | None, name: str) -> tuple[Interval, Interval]:
    """Give what counts of a material and what of it is organic, in % of it."""
    if material is None:
        open_share = between(Fraction(0), HUNDRED, f"{name}: no such ingredient")
        return open_share, open_share
    if material.substances and all(map(is_water, material.substances)):
        return known(Fraction(0)), known(Fraction(0))
    out = material.get("nop", "left_out", kind=Decimal)
    organic = material.get("nop", "organic", kind=Decimal)
    missing = f"{name}: no {'left_out' if out is None else 'organic'} in [nop]"
    counted = known(HUNDRED - Fraction(out)) if out is not None else between(Fraction(0), HUNDRED, missing)
    if organic is not None:
        return counted, known(Fraction(organic))
    return counted, between(Fraction(0), counted.high, missing)


def nop_parts(sums: Breakdown, name: str) -> tuple[Interval, Interval]:
    """Give what counts of a material, neither water nor salt, and what of it is organic, both in % of it."""
    material = sums.formula.ingredients.get(name)
    if material is None:
        return _shares(None, name)
    return material.derived.cached("nop", lambda: _shares(material, name))


def organic_share(sums: Breakdown) -> Interval:
    """Give the organic share in % of what is neither water nor salt, as far as it is known."""
    parts = [(*nop_parts(sums, name), share) for name, share in sums.leaves.items() if share]
    counted = total((base, share) for base, _, share in parts)
    organic = total((part, share) for _, part, share in parts)
    found = ratio(organic, counted)
    return Interval(found.low, found.high, (*found.missing, *unsettled(sums)))


def nop_organic(sums: Breakdown, _: Terms) -> Figure:
    """Give the organic share, exact."""
    found = sums.cached("nop_organic", lambda: organic_share(sums))
    return Figure("nop_organic", found.value, "%", found.missing)


def nop_organic_label(sums: Breakdown, terms: Terms) -> Figure:
    """Give the organic share as a label may state it: rounded down to a whole number."""
    found = nop_organic(sums, terms)
    value = None if found.value is None else Fraction(floor(found.value))
    return Figure("nop_organic_label", value, "%", found.missing, ("rounded down, 7 CFR 205.302(b)",))
