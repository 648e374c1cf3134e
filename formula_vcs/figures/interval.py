"""Numbers known only to lie somewhere: what is left open by missing data, and by materials stated as ranges."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Compute, Figure, Terms
from formula_vcs.model.amount import PartSpan, decimal
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.values import dataclass, replace
from formula_vcs.words.numbers import dot, shown

# --- A number known only to lie somewhere: what missing data leave open, so that they decide nothing they cannot


@dataclass(frozen=True, slots=True)
class Interval:
    """A number from ``low`` to ``high``; both the same where it is known.  ``missing`` says what leaves it open."""

    low: Fraction = Fraction(0)
    high: Fraction = Fraction(0)
    missing: tuple[str, ...] = ()

    @property
    def value(self) -> Fraction | None:
        """The number where it is known."""
        return self.low if not self.missing else None

    def __add__(self, other: Interval) -> Interval:
        """Add two numbers."""
        return Interval(self.low + other.low, self.high + other.high, (*self.missing, *other.missing))

    def times(self, factor: Fraction) -> Interval:
        """Take a number some times (not negative)."""
        return Interval(self.low * factor, self.high * factor, self.missing)


def total(parts: Iterable[tuple[Interval, Fraction]]) -> Interval:
    """Add up numbers, each taken some times (not negative)."""
    found = list(parts)
    low = dot([(part.low, factor) for part, factor in found if part.low])
    open_ones = [(part.high, part.low, factor) for part, factor in found if part.missing]
    high = low + dot([(upper - lower, factor) for upper, lower, factor in open_ones])
    return Interval(low, high, tuple(word for part, _ in found for word in part.missing))


def known(value: Fraction) -> Interval:
    """A number that is known."""
    return Interval(value, value)


def between(low: Fraction, high: Fraction, missing: str) -> Interval:
    """A number that a missing fact leaves open."""
    return Interval(low, high, (missing,))


def ratio(part: Interval, whole: Interval) -> Interval:
    """Give part / whole x 100 where the part is part of the whole; an empty whole gives 0."""
    missing = tuple(dict.fromkeys((*part.missing, *whole.missing)))
    low = part.low / whole.high * 100 if whole.high else Fraction(0)
    high = min(part.high / whole.low * 100, Fraction(100)) if whole.low else Fraction(100 if missing else 0)
    return Interval(low, high, missing)


# --- Figures of a product whose materials state their composition as ranges: the middle counts, and the ends are
# said


def ranged_materials(sums: Breakdown) -> tuple[str, ...]:
    """Name the raw materials in a product whose composition is known by ranges only."""
    found = ((name, sums.formula.ingredients.get(name)) for name, share in sums.leaves.items() if share)
    return tuple(name for name, material in found if material is not None and material.ranged)


def with_ends(compute: Compute) -> Compute:
    """A figure that also says how far the ranges let it move: with all of them at one end, then at the other.

    For a sum of substances these are its ends; for another figure they are what the ends give, and no bounds.
    """

    def figure(sums: Breakdown, terms: Terms) -> Figure:
        found = compute(sums, terms)
        names = ranged_materials(sums) if found.value is not None else ()
        if not names:
            return found
        values = [compute(side, terms).value for side in _sides(sums)]
        known = [found.value, *(value for value in values if value is not None)]
        low, high = (end(value for value in known if value is not None) for end in (min, max))
        if low == high and None not in values:
            return found
        moved = (
            f"{shown(low, 2, 2)} to {shown(high, 2, 2)} {found.unit}".rstrip() if None not in values else "not known"
        )
        words = f"{found.name.replace('_', ' ')}: the middle of the ranges of {', '.join(names)}; at their ends {moved}"
        return replace(found, basis=(*found.basis, words))

    return figure


def at_range_ends(sums: Breakdown) -> tuple[Breakdown, ...]:
    """A product by the middle of the ranges of its materials, then with all at their lower and their upper ends.

    By itself where nothing in it is known by a range.  Whoever holds a limit, at least or at most, takes the worst.
    """
    return (sums, *_sides(sums)) if ranged_materials(sums) else (sums,)


def _sides(sums: Breakdown) -> tuple[Breakdown, Breakdown]:
    return sums.cached(
        "range ends",
        lambda: (
            Breakdown(_at(sums.formula, lower=True)),
            Breakdown(_at(sums.formula, lower=False)),
        ),
    )


def _at(formula: Formula, *, lower: bool) -> Formula:
    """A formula with every range at an end."""
    ingredients = {
        name: _material(one, lower=lower) if one.ranged else one for name, one in formula.ingredients.items()
    }  # fmt: skip
    return replace(formula, ingredients=ingredients)


def _material(material: Ingredient, *, lower: bool) -> Ingredient:
    """A material with its ranges at an end; what fills it up to 100 has what the others then leave."""
    facts = dict(material.facts)
    for path, value in material.facts.items():
        if isinstance(value, PartSpan) and path[0] == "substances":
            held = material.held[path[1]]
            facts[path] = decimal(held.least if lower != value.fills else held.most)
    return replace(material, facts=facts)
