"""One computed number of a recipe, and how it is asked for."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.product import has_two_waters
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass, field
from formula_vcs.words.numbers import dot


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure: its exact value, or what is missing to know it (one "ingredient: fact" each), never a guess.

    ``basis`` says what a reader must know of how it was got; an ``estimate`` replaces no measurement, and ``span`` is
    the range that it may lie in, where that is known.
    """

    name: str
    value: Fraction | None
    unit: str
    missing: tuple[str, ...] = ()
    basis: tuple[str, ...] = ()
    estimate: bool = False
    span: tuple[Fraction, Fraction] | None = None


@dataclass(frozen=True, slots=True)
class Terms:
    """What a figure depends on besides the formula: the day, and the batch size where it is not the recipe's own."""

    day: datetime.date
    batch: Quantity | None = None


Compute = Callable[[Breakdown, Terms], Figure]


@dataclass(slots=True)
class Mixed:
    """The mean of a property over a formula's materials by mass, and what was not there for it."""

    value: Fraction = Fraction(0)
    missing: list[str] = field(default_factory=list)


def mean(shares: dict[str, Fraction], of: Callable[[str], Fraction | str]) -> Mixed:
    """Add up share times property; a str says what a material lacks."""
    missing: list[str] = []
    parts: list[tuple[Fraction, Fraction]] = []
    for name, share in shares.items():
        if share:
            value = of(name)
            if isinstance(value, str):
                missing.append(f"{name}: {value}")
            else:
                parts.append((share, value))
    return Mixed(dot(parts), missing)


def unsettled_water(sums: Breakdown) -> list[str]:
    """Say what is open of a recipe before its water phase can be spoken of: amounts, and which water is meant."""
    kind = sums.formula.recipe.get("emulsion")
    two = [f"{kind}: two water phases, and what is in each of them is not stated"] if has_two_waters(kind) else []
    return unsettled(sums) + two


def unsettled(sums: Breakdown) -> list[str]:
    """Say which amounts of the recipe, or of a premix in it, are still open."""
    found = [f"{charge.ingredient}: the amount is not settled" for charge in sums.composition.unknown]
    for name in sums.formula.order:
        recipe = sums.formula.premix_of(name)
        if recipe is not None:
            found += [
                f"{charge.ingredient} in premix '{recipe.id}': the amount is not settled"
                for charge in sums.premix(recipe.id).unknown
            ]
    found += [f"{cycle[-1]}: the premix contains itself" for cycle in sums.formula.cycles]
    return found
