"""Raw-material cost per kg and per pack, at the price in force on a day and the quantity break of a batch."""

from __future__ import annotations

import datetime
from fractions import Fraction

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.density import pack_mass
from formula_vcs.figures.figure import Figure, Terms, mean, unsettled
from formula_vcs.model.amount import Price
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.rate import Rate, exchange
from formula_vcs.model.values import dataclass


@dataclass(frozen=True, slots=True)
class PriceInForce:
    """The price per kg taken for a material, in a currency, and a remark where the choice needs one."""

    per_kg: Fraction
    currency: str
    price: Price
    remark: str = ""


def choose(ingredient: Ingredient, day: datetime.date, needed: Fraction | None) -> PriceInForce | str:
    """Choose the price in force on a day for a needed mass (kg); a str says what is missing.

    A later ``since`` replaces the earlier price of the same break.  Of the breaks, the highest that the need
    reaches is taken; below the lowest, or where the need is not known, the lowest break's price, and said.
    """
    in_force = ingredient.derived.cached(("prices", day), lambda: _in_force(ingredient, day))
    return in_force if isinstance(in_force, str) else _of_break(ingredient, in_force, needed)


def _in_force(ingredient: Ingredient, day: datetime.date) -> dict[Fraction, Price] | str:
    """Give the price of each quantity break (kg) on a day."""
    in_force: dict[Fraction, Price] = {}
    for price in ingredient.prices:
        since = price.since
        if isinstance(since, datetime.date) and since > day:
            continue
        least = _mass(price.least, ingredient) if price.least is not None else Fraction(0)
        if least is None:
            return "no density to turn a price break by volume into a mass"
        known = in_force.get(least)
        if known is None or _since(known) <= _since(price):
            in_force[least] = price
    if not in_force:
        return f"no price in force on {day}" if ingredient.prices else "no price"
    return in_force


def _of_break(ingredient: Ingredient, in_force: dict[Fraction, Price], needed: Fraction | None) -> PriceInForce | str:
    reached = [least for least in in_force if needed is not None and least <= needed]
    least = max(reached) if reached else min(in_force)
    price = in_force[least]
    remark = ""
    if not reached and least:
        why = "less is needed" if needed is not None else "no batch size is stated"
        remark = f"{ingredient.id}: priced at its lowest break, from {price.least} ({why})"
    per_kg = price.cost.base
    if price.cost.dimension == "price by volume":
        if ingredient.density is None:
            return "no density to turn a price by volume into one by mass"
        per_kg = price.cost.base / ingredient.density.base
    return PriceInForce(per_kg, price.cost.currency, price, remark)


def _since(price: Price) -> datetime.date:
    return price.since if isinstance(price.since, datetime.date) else datetime.date.min


def _mass(quantity: Quantity, ingredient: Ingredient) -> Fraction | None:
    if quantity.dimension == "mass":
        return quantity.base
    return None if ingredient.density is None else quantity.base * ingredient.density.base


@dataclass(frozen=True, slots=True)
class Costing:
    """The cost of one kg of product, material by material."""

    per_kg: Fraction
    currency: str
    chosen: dict[str, PriceInForce]
    missing: tuple[str, ...]
    remarks: tuple[str, ...]
    rates: tuple[Rate, ...] = ()


def batch_mass(sums: Breakdown, terms: Terms) -> Fraction | None:
    """Give the batch (kg) that costs are quoted for: as asked, else the recipe's, else the workspace's."""
    found = terms.batch or sums.formula.batch
    return None if found is None else found.base


def costing(sums: Breakdown, terms: Terms) -> Costing:
    """Price every material that is bought; a premix that states a price of its own is bought too."""
    return sums.cached(("costing", terms), lambda: _costing(sums, terms))


def _costing(sums: Breakdown, terms: Terms) -> Costing:
    shares = sums.spread(lambda material: bool(material.prices))
    batch = batch_mass(sums, terms)
    workspace = sums.formula.workspace
    chosen: dict[str, PriceInForce] = {}
    used: dict[Rate, list[str]] = {}

    def cost_currency() -> str:
        return workspace.currency or next((choice.currency for choice in chosen.values()), "")

    def price(name: str) -> Fraction | str:
        found = sums.formula.ingredients.get(name)
        if found is None or not found.readable:
            return "no such ingredient, or its file does not parse"
        choice = choose(found, terms.day, None if batch is None else batch * shares[name])
        if isinstance(choice, str):
            return choice
        chosen[name] = choice
        if choice.currency == cost_currency():
            return choice.per_kg
        rated = exchange(workspace.rates, choice.currency, cost_currency(), terms.day)
        if isinstance(rated, str):
            return rated
        used.setdefault(rated[1], []).append(name)
        return choice.per_kg * rated[0]

    mixed = mean(shares, price)
    missing = mixed.missing + unsettled(sums)
    remarks = [choice.remark for choice in chosen.values() if choice.remark]
    remarks += [f"{', '.join(names)}: converted at {rate}" for rate, names in used.items()]
    return Costing(mixed.value, cost_currency(), chosen, tuple(missing), tuple(remarks), tuple(used))


def cost_per_kg(sums: Breakdown, terms: Terms) -> Figure:
    """Give the cost of the raw materials of one kg."""
    found = costing(sums, terms)
    unit = f"{found.currency or 'currency'}/kg"
    return Figure("cost_per_kg", None if found.missing else found.per_kg, unit, found.missing, found.remarks)


def cost_per_pack(sums: Breakdown, terms: Terms) -> Figure:
    """Give the cost of the raw materials in one pack; of a volume, by the density that is best known."""
    found = costing(sums, terms)
    unit = f"{found.currency or 'currency'}/pack"
    pack = sums.formula.recipe.pack
    if pack is None:
        return Figure("cost_per_pack", None, unit, ("the recipe states no pack",))
    missing, basis = list(found.missing), list(found.remarks)
    weighed = pack_mass(sums, pack)
    missing += weighed.missing
    basis += () if weighed.density is None else weighed.density.basis
    estimate = weighed.density is not None and weighed.density.estimate
    value = None if missing or weighed.mass is None else found.per_kg * weighed.mass
    return Figure("cost_per_pack", value, unit, tuple(missing), tuple(basis), estimate)
