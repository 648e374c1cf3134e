"""The percentages of one recipe, exact, with the balance worked out."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Final

from formula_vcs.model.amount import Amount
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.recipe import WEIGHT_IN_VOLUME, Charge, Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.words.numbers import dot

HUNDRED = Fraction(100)
ONE = Fraction(1)

NO_DENSITY: Final = "it fills up to a volume, and the recipe states no density"
_GRAMS: Final = 1000  # in 1 kg
_PER_100_ML: Final = Fraction(10)
_MEASURES: Final = {"percent": "%", "parts": "parts", WEIGHT_IN_VOLUME: "g in 100 mL"}


@dataclass(frozen=True, slots=True)
class ChargeShare:
    """One charge with its share of the recipe in % w/w."""

    charge: Charge
    pct: Fraction


@dataclass(frozen=True, slots=True)
class Conversion:
    """A volume taken as a mass (kg) by the ingredient's density (kg/m3)."""

    charge: Charge
    volume: str
    density: str
    mass: Fraction


@dataclass(frozen=True, slots=True)
class Composition:
    """What a recipe consists of.

    ``total`` is the sum of all amounts, the balance included, in the recipe's own measure (%, parts or kg);
    ``fixed`` is the same without the balance.  ``unknown`` are charges whose amount cannot be known: "q.s.", a
    volume without a density, an amount that was refused.  ``why_open`` says why none of them is known.
    """

    lines: tuple[ChargeShare, ...]
    total: Fraction
    fixed: Fraction
    whole: Fraction | None
    balances: tuple[Charge, ...]
    unknown: tuple[Charge, ...]
    conversions: tuple[Conversion, ...]
    measure: str
    why_open: str = ""

    @property
    def is_open(self) -> bool:
        """Say whether an amount is still to be settled."""
        return bool(self.unknown)

    @property
    def residue(self) -> Fraction | None:
        """What is left for the balance, in the recipe's own measure; None where there is no balance."""
        return None if self.whole is None else self.whole - self.fixed

    def pct(self, charge_key: str) -> Fraction | None:
        """The % w/w of a charge "A/glycerin"."""
        return next((line.pct for line in self.lines if line.charge.key == charge_key), None)

    def by_ingredient(self) -> dict[str, Fraction]:
        """The % w/w of each ingredient, all its charges together."""
        sums: dict[str, Fraction] = {}
        for line in self.lines:
            name = line.charge.ingredient
            sums[name] = sums[name] + line.pct if name in sums else line.pct
        return sums


def compose(recipe: Recipe, ingredient: Callable[[str], Ingredient | None]) -> Composition:
    """Work out the percentages of a recipe.

    In percent the amounts are what they say.  In parts or by mass they are taken on the real sum, whatever total
    the book claims.  With two balances, which a rule blocks, the first takes what is left.
    """
    balances = tuple(charge for charge in recipe.charges if charge.balance)
    unknown: list[Charge] = []
    conversions: list[Conversion] = []
    known: list[tuple[Charge, Fraction]] = []
    for charge in recipe.charges:
        if charge.balance:
            continue
        value = _measure(charge, ingredient, conversions)
        if value is None:
            unknown.append(charge)
        elif recipe.amounts == WEIGHT_IN_VOLUME and charge.amount is not None and charge.amount.quantity is not None:
            value *= _GRAMS  # a mass, or a volume, in 100 mL
        known.append((charge, value or Fraction(0)))
    fixed = dot((value, ONE) for _, value in known)
    whole = _whole(recipe, balances[0].amount) if balances else None
    if isinstance(whole, str):
        return _volume_alone(recipe, balances, fixed)
    total = fixed if whole is None else whole
    scale = _scale(recipe.amounts, total)
    shares = {id(charge): value if scale == 1 else value * scale for charge, value in known}
    for position, charge in enumerate(balances):
        shares[id(charge)] = (total - fixed) * scale if position == 0 else Fraction(0)
    return Composition(
        lines=tuple(ChargeShare(charge, shares[id(charge)]) for charge in recipe.charges),
        total=total,
        fixed=fixed,
        whole=whole,
        balances=balances,
        unknown=tuple(unknown),
        conversions=tuple(conversions),
        measure=_MEASURES.get(recipe.amounts, "kg"),
    )


def _scale(mode: str, total: Fraction) -> Fraction:
    if mode == "percent":
        return Fraction(1)
    return HUNDRED / total if total else Fraction(0)


def _whole(recipe: Recipe, amount: Amount | None) -> Fraction | str | None:
    """What a balance fills up to, in the recipe's own measure; a str says that a volume cannot be weighed."""
    if amount is None:
        return None
    density = recipe.density
    by_volume = amount.quantity is not None and amount.quantity.dimension == "volume"
    if not by_volume and recipe.amounts != WEIGHT_IN_VOLUME:
        return amount.quantity.base if amount.quantity is not None else Fraction(amount.value)
    if density is None:
        return NO_DENSITY
    # in % w/v the measure is g in 100 mL, and 1 kg/m3 is 0.1 g in 100 mL
    return amount.quantity.base * density.base if amount.quantity is not None else density.base / _PER_100_ML


def _volume_alone(recipe: Recipe, balances: tuple[Charge, ...], fixed: Fraction) -> Composition:
    """A recipe that fills up to a volume and states no density: no percentage of it is known."""
    nothing = Fraction(0)
    return Composition(
        tuple(ChargeShare(charge, nothing) for charge in recipe.charges), fixed, fixed, None, balances, recipe.charges,
        (), _MEASURES.get(recipe.amounts, "kg"), NO_DENSITY,
    )  # fmt: skip


def _measure(
    charge: Charge, ingredient: Callable[[str], Ingredient | None], conversions: list[Conversion]
) -> Fraction | None:
    amount = charge.amount
    if amount is None or amount.kind == "open":
        return None
    if amount.kind in ("percent", "parts"):
        return Fraction(amount.value)
    if amount.quantity is None:
        return None
    if amount.kind == "mass":
        return amount.quantity.base
    found = ingredient(charge.ingredient)
    if found is None or found.density is None:
        return None
    mass = amount.quantity.base * found.density.base
    conversions.append(Conversion(charge, str(amount.quantity), str(found.density), mass))
    return mass
