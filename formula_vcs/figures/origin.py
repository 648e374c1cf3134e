"""The four ISO 16128-2 contents, each with and without formulation water, and the water itself.

Formulas: content = sum(w_i x index_i); without water, the sum runs over what is not formulation water and is
taken on the rest of the product (ISO 16128-2:2017, clause 5).  Water inside a bought solution stays in, as that
standard leaves it open; only material marked ``formulation_water`` goes out.  Water that rebuilds a concentrate is
reconstitution water: up to the cap it counts as its plant does and is no formulation water (Annex B).  An extract
without declared indices takes those of its making, marked as computed (`making.py`).
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.extract import COMPUTED, ExtractMaking, made, rebuilt
from formula_vcs.figures.extract import index as computed
from formula_vcs.figures.figure import Figure, Terms, mean, unsettled
from formula_vcs.figures.interval import Interval
from formula_vcs.model.ingredient import is_water

NOT_READ = "no such ingredient, or its file does not parse"


def _index(sums: Breakdown, name: str, index: str) -> Fraction | str:
    found = sums.formula.ingredients.get(name)
    if found is None or not found.readable:
        return NOT_READ
    value = found.index(index)
    if value is not None:
        return value
    making = made(found)
    if isinstance(making, ExtractMaking):
        return computed(making, index)
    return making or f"no {index.replace('_', '-')} index in [origin]"


def _contents(sums: Breakdown, index: str) -> tuple[Fraction, list[str]]:
    return sums.cached(("contents", index), lambda: _summed(sums, index))


def _summed(sums: Breakdown, index: str) -> tuple[Fraction, list[str]]:
    mixed = mean(sums.leaves, lambda name: _index(sums, name, index))
    for concentrate, (water_name, share) in rebuilt(sums).items():
        plant, plain = _index(sums, concentrate, index), _index(sums, water_name, index)
        if isinstance(plant, Fraction) and isinstance(plain, Fraction):
            mixed.value += share * (plant - plain)
    return mixed.value * 100, mixed.missing + unsettled(sums)


def content_between(sums: Breakdown, index: str, *, water_in: bool = True) -> Interval:
    """A content in % of the product, or of what is not formulation water, between what missing data leave open."""
    low, missing = _contents(sums, index)
    open_share = sum(
        (share for name, share in sums.leaves.items() if share and isinstance(_index(sums, name, index), str)),
        Fraction(0),
    )
    high = low + open_share * 100
    if water_in:
        return Interval(low, min(high, Fraction(100)), tuple(missing))
    share = water_share(sums)
    if share == 1:
        return Interval(Fraction(0), Fraction(100), (*missing, "nothing is left without formulation water"))
    off = _from_water(sums, index) * 100
    return Interval((low - off) / (1 - share), min((high - off) / (1 - share), Fraction(100)), tuple(missing))


def _made(sums: Breakdown, index: str) -> tuple[str, ...]:
    """Say which materials' index was computed from their making."""
    return tuple(
        f"{name}: {COMPUTED}"
        for name, share in sums.leaves.items()
        if share
        and (found := sums.formula.ingredients.get(name)) is not None
        and found.index(index) is None
        and isinstance(made(found), ExtractMaking)
    )


def content(sums: Breakdown, _: Terms, index: str) -> Figure:
    """An ISO 16128 content in % of the product."""
    value, missing = _contents(sums, index)
    return Figure(index, None if missing else value, "%", tuple(missing), _made(sums, index))


def content_without_water(sums: Breakdown, _: Terms, index: str) -> Figure:
    """An ISO 16128 content in % of what is not formulation water."""
    name = f"{index}_without_water"
    value, missing = _contents(sums, index)
    water = water_share(sums)
    from_water = _from_water(sums, index)
    if missing:
        return Figure(name, None, "%", tuple(missing))
    if water == 1:
        return Figure(name, None, "%", ("nothing is left without formulation water",))
    return Figure(name, (value - from_water * 100) / (1 - water), "%", basis=_made(sums, index))


def _from_water(sums: Breakdown, index: str) -> Fraction:
    waters = [name for name in sums.leaves if _is_formulation_water(sums, name)]
    whole = sum(
        (sums.leaves[name] * (sums.formula.ingredients[name].index(index) or 0) for name in waters), Fraction(0)
    )
    return whole - sum(
        (
            share * (sums.formula.ingredients[name].index(index) or 0)
            for name, share in rebuilt(sums).values()
            if name in waters
        ),
        Fraction(0),
    )


def _is_formulation_water(sums: Breakdown, name: str) -> bool:
    found = sums.formula.ingredients.get(name)
    return found is not None and found.formulation_water


def water_share(sums: Breakdown) -> Fraction:
    """The share of the product (0 to 1) that is water added as such."""
    added = sum((share for name, share in sums.leaves.items() if _is_formulation_water(sums, name)), Fraction(0))
    tied = (share for name, share in rebuilt(sums).values() if _is_formulation_water(sums, name))
    return added - sum(tied, Fraction(0))


class OriginTerm(NamedTuple):
    """One summand of a content: what, its share in % of the product, its index or what is missing, and who says so."""

    ingredient: str
    share: Fraction
    factor: Fraction | str
    source: str
    rebuilds: str = ""


class OriginWorking(NamedTuple):
    """How a content is worked out: its summands, the formulation water in %, and what of the content that brings."""

    terms: tuple[OriginTerm, ...]
    water: Fraction
    from_water: Fraction


def working(sums: Breakdown, index: str) -> OriginWorking:
    """The arithmetic of a content line by line, to be done again by hand.

    Water that rebuilds a plant is a summand of its own: its share, with the plant's index less that of water.
    """
    terms = [
        OriginTerm(name, share * 100, _index(sums, name, index), _said_by(sums, name, index))
        for name, share in sums.leaves.items()
        if share
    ]
    for concentrate, (water_name, share) in rebuilt(sums).items():
        plant, plain = _index(sums, concentrate, index), _index(sums, water_name, index)
        if isinstance(plant, Fraction) and isinstance(plain, Fraction):
            terms.append(OriginTerm(water_name, share * 100, plant - plain, "counted with the plant", concentrate))
    return OriginWorking(tuple(terms), water_share(sums) * 100, _from_water(sums, index) * 100)


def _said_by(sums: Breakdown, name: str, index: str) -> str:
    """Say whose word an index is: the source that the file names, or the making that it is computed from."""
    found = sums.formula.ingredients.get(name)
    if found is None:
        return ""
    if found.index(index) is None:
        return COMPUTED if isinstance(made(found), ExtractMaking) else ""
    return found.get("origin", "source") or ""


def formulation_water(sums: Breakdown, _: Terms) -> Figure:
    """The water added as such, in % of the product."""
    missing = unsettled(sums) + [
        f"{name}: {NOT_READ}" for name, share in sums.leaves.items() if share and name not in sums.formula.ingredients
    ]
    return Figure("formulation_water", None if missing else water_share(sums) * 100, "%", tuple(missing))


def water(sums: Breakdown, _: Terms) -> Figure:
    """All water in % of the product, that inside bought solutions and premixes included."""
    missing = unsettled(sums) + [f"{name}: no composition" for name in sums.unnamed]
    value = sum((pct for inci, pct in sums.substances.items() if is_water(inci)), Fraction(0))
    return Figure("water", None if missing else value, "%", tuple(missing))
