"""What a batch cost at its own lots and masses, against standard, and which part of the difference came from what.

The cost of a kg that came out is the sum of mass times price over the charges, divided by what came out.  Three things
move it: the masses, the prices, the yield.  The difference is split by the Shapley value of three players (Shapley,
A Value for n-Person Games, 1953): the mean over the six orders in which they can change.  For two factors this is the
split of Bennet (1920).  All of it is exact, so the parts add up to the difference.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import permutations
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.cost import choose, costing
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.pack_cost import PackCosting, pack_costing
from formula_vcs.model.batch import Batch, BatchCharge
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.lot import Lot
from formula_vcs.model.quantity import Quantity, Rate, exchange
from formula_vcs.model.values import dataclass, replace

NAMES: Final = ("quantity", "price", "yield")
LotOf = Callable[[str], Lot | None]
BatchOf = Callable[[str], Batch | None]
_DEEPEST: Final = 8


@dataclass(frozen=True, slots=True)
class Priced:
    """One charge: masses in kg, prices for 1 kg; ``basis`` says where the actual price comes from.

    ``quantity`` and ``price`` are its parts of the difference for each kg that came out.
    """

    key: str
    title: str
    target: Fraction
    weighed: Fraction
    standard: Fraction
    actual: Fraction
    basis: str
    quantity: Fraction = Fraction(0)
    price: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class BatchCost:
    """The cost of a batch: for each kg that came out, and the effects that make the difference.

    ``standard`` and ``actual`` are the costs of 1 kg; ``expected`` and ``made`` what was to come out and what did, in
    kg.  ``missing`` names what is not there; then nothing else is worked out.  ``packaging`` is that of one pack at the
    prices of the day, where the recipe names one.
    """

    currency: str
    charges: tuple[Priced, ...]
    standard: Fraction
    actual: Fraction
    expected: Fraction
    made: Fraction
    effects: dict[str, Fraction]
    missing: tuple[str, ...]
    remarks: tuple[str, ...]
    packaging: PackCosting | None = None

    @property
    def difference(self) -> Fraction:
        """Give what 1 kg cost more than standard."""
        return self.actual - self.standard


def three_ways(before: tuple[Fraction, ...], after: tuple[Fraction, ...]) -> tuple[Fraction, Fraction, Fraction]:
    """Split the difference of mass x price / made over its three factors, exactly.

    >>> three_ways((Fraction(2), Fraction(3), Fraction(1)), (Fraction(4), Fraction(5), Fraction(1)))
    (Fraction(8, 1), Fraction(6, 1), Fraction(0, 1))
    """
    parts = [Fraction(0)] * 3
    orders = list(permutations(range(3)))
    for order in orders:
        now = list(before)
        value = now[0] * now[1] / now[2]
        for player in order:
            now[player] = after[player]
            moved = now[0] * now[1] / now[2]
            parts[player] += moved - value
            value = moved
    found = [part / len(orders) for part in parts]
    return found[0], found[1], found[2]


def batch_cost(batch: Batch, formula: Formula, lot: LotOf, made_by: BatchOf) -> BatchCost:
    """Cost a batch.  ``lot`` and ``made_by`` find a lot and the batch of a premix by their ids."""
    day = batch.date or datetime.date.min
    sums = Breakdown(formula)
    currency = formula.workspace.currency or costing(sums, Terms(day, batch.size)).currency
    missing: list[str] = []
    remarks: list[str] = []
    charges: list[Priced] = []
    pricing = _Pricing(formula, day, currency, lot, made_by, remarks)
    for charge in batch.charges:
        found = pricing.charge(charge)
        if isinstance(found, str):
            missing.append(f"{charge.key}: {found}")
        else:
            charges.append(found)
    size, made = batch.size, batch.made
    if size is None:
        missing.append("the batch states no size")
    if made is None or not made.base:
        missing.append("the batch does not say what came out ('made')")
    planned = batch.get("yield", Quantity) or formula.recipe.yields
    expected = Fraction(0) if size is None else size.base * (planned.base if planned is not None else 1)
    packed = None if formula.recipe.packaging is None else pack_costing(sums, Terms(day, batch.size), currency)
    if missing or made is None or not expected:
        nothing = Fraction(0)
        return BatchCost(currency, (), nothing, nothing, expected, nothing, {}, tuple(missing), tuple(remarks), packed)
    return replace(_split(charges, expected, made.base, currency, tuple(remarks)), packaging=packed)


def _split(
    charges: list[Priced], expected: Fraction, made: Fraction, currency: str, remarks: tuple[str, ...]
) -> BatchCost:
    effects = dict.fromkeys(NAMES, Fraction(0))
    split: list[Priced] = []
    for one in charges:
        before, after = (one.target, one.standard, expected), (one.weighed, one.actual, made)
        parts = dict(zip(NAMES, three_ways(before, after), strict=True))
        for name, part in parts.items():
            effects[name] += part
        split.append(
            Priced(
                one.key,
                one.title,
                one.target,
                one.weighed,
                one.standard,
                one.actual,
                one.basis,
                parts["quantity"],
                parts["price"],
            )
        )
    standard = sum((one.target * one.standard for one in charges), Fraction(0)) / expected
    actual = sum((one.weighed * one.actual for one in charges), Fraction(0)) / made
    return BatchCost(currency, tuple(split), standard, actual, expected, made, effects, (), remarks)


class _Pricing:
    """Prices of one batch: standard from the price lists on its day, actual from its lots."""

    def __init__(  # noqa: PLR0917 - what prices are looked up in
        self,
        formula: Formula,
        day: datetime.date,
        currency: str,
        lot: LotOf,
        made_by: BatchOf,
        remarks: list[str],
        depth: int = 0,
    ) -> None:
        self.formula = formula
        self.day = day
        self.currency = currency
        self.lot = lot
        self.made_by = made_by
        self.remarks = remarks
        self.depth = depth

    def charge(self, charge: BatchCharge) -> Priced | str:
        ingredient = self.formula.ingredients.get(charge.ingredient)
        if ingredient is None:
            return "the recipe that it was made from has no such ingredient"
        if charge.target is None:
            return "no target"
        if charge.weighed is None:
            return "not weighed"
        standard = self.standard(ingredient, charge.target.base)
        if isinstance(standard, str):
            return standard
        actual = self.actual(charge, ingredient, standard)
        if isinstance(actual, str):
            return actual
        price, basis = actual
        title = self.formula.title(charge.ingredient)
        return Priced(charge.key, title, charge.target.base, charge.weighed, standard, price, basis)

    def standard(self, ingredient: Ingredient, needed: Fraction) -> Fraction | str:
        """Give the price of 1 kg by the price list; of a premix without a price, by what it is made of."""
        premix = self.formula.premix_of(ingredient.id)
        if premix is not None and not ingredient.prices:
            inner = self.formula.of_premix(premix)
            found = costing(Breakdown(inner), Terms(self.day, premix.batch))
            for rate in found.rates:
                self._remark(rate)
            return "; ".join(found.missing) if found.missing else found.per_kg
        chosen = choose(ingredient, self.day, needed)
        if isinstance(chosen, str):
            return chosen
        return self._converted(chosen.per_kg, chosen.currency)

    def _converted(self, price: Fraction, currency: str) -> Fraction | str:
        """Give a price in the currency of the batch, at the rate of its day; the rate is among the remarks."""
        if currency == self.currency:
            return price
        rated = exchange(self.formula.workspace.rates, currency, self.currency, self.day)
        if isinstance(rated, str):
            return rated
        self._remark(rated[1])
        return price * rated[0]

    def _remark(self, rate: Rate) -> None:
        if f"converted at {rate}" not in self.remarks:
            self.remarks.append(f"converted at {rate}")

    def actual(self, charge: BatchCharge, ingredient: Ingredient, standard: Fraction) -> tuple[Fraction, str] | str:
        """Give the price of 1 kg that was paid: by mass over the lots, the standard where a lot states none."""
        paid, mass = Fraction(0), Fraction(0)
        basis: list[str] = []
        for portion in charge.weighings:
            if portion.weighed is None:
                return "not weighed"
            found = self._of_lot(portion.lot, ingredient)
            if isinstance(found, str):
                basis.append(f"standard ({found})")
                found = standard
            else:
                basis.append(f"lot {portion.lot}")
            paid, mass = paid + portion.weighed.base * found, mass + portion.weighed.base
        return (paid / mass if mass else standard), ", ".join(dict.fromkeys(basis))

    def _of_lot(self, name: str | None, ingredient: Ingredient) -> Fraction | str:
        if name is None:
            return "no lot is named"
        if self.formula.premix_of(ingredient.id) is not None:
            return self._of_batch(name)
        lot = self.lot(name)
        if lot is None:
            return f"there is no lot '{name}'"
        if lot.price is None:
            return f"lot '{name}' states no price"
        price = self._converted(lot.price.base, lot.price.currency)
        if isinstance(price, str):
            return f"lot '{name}' is {price}"
        if lot.price.dimension == "price by volume":
            if ingredient.density is None:
                return f"lot '{name}' is priced by volume, and the ingredient states no density"
            return price / ingredient.density.base
        return price

    def _of_batch(self, name: str) -> Fraction | str:
        """Give what 1 kg of a premix cost: its own batch at its own lots."""
        made = self.made_by(name)
        if made is None or self.depth >= _DEEPEST:
            return f"there is no batch '{name}'" if made is None else "premixes stand too deep in each other"
        recipe = None if made.recipe is None else self.formula.premixes.get(made.recipe)
        if recipe is None:
            return f"batch '{name}' is not of this premix"
        inner = self.formula.of_premix(recipe)
        day = made.date or self.day
        pricing = _Pricing(inner, day, self.currency, self.lot, self.made_by, self.remarks, self.depth + 1)
        out = made.made.base if made.made is not None and made.made.base else None
        charges = list(pricing.all_of(made))
        missing = [found for found in charges if isinstance(found, str)]
        if missing:
            return f"batch '{name}': {missing[0]}"
        paid = sum((found.weighed * found.actual for found in charges if isinstance(found, Priced)), Fraction(0))
        went_in = sum((found.weighed for found in charges if isinstance(found, Priced)), Fraction(0))
        if out is None:
            self.remarks.append(f"batch '{name}' does not say what came out: all that went in is taken for it")
        return paid / (out or went_in) if went_in else f"batch '{name}' weighed nothing"

    def all_of(self, made: Batch) -> Iterator[Priced | str]:
        for charge in made.charges:
            found = self.charge(charge)
            yield f"{charge.key}: {found}" if isinstance(found, str) else found
