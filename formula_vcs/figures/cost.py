"""Raw-material cost per kg and per pack, at the price in force on a day and the quantity break of a batch."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms, mean, unsettled
from formula_vcs.model.amount import Price
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Quantity, Rate, exchange
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

    def mass(least: Quantity) -> Fraction | None:
        return _mass(least, ingredient)

    breaks = ingredient.derived.cached(("prices", day), lambda: in_force(ingredient.prices, day, mass))
    return breaks if isinstance(breaks, str) else _of_break(ingredient, breaks, needed)


def in_force(
    prices: tuple[Price, ...], day: datetime.date, measure: Callable[[Quantity], Fraction | None]
) -> dict[Fraction, Price] | str:
    """The price of each quantity break on a day; ``measure`` gives the break's quantity in its base unit."""
    found: dict[Fraction, Price] = {}
    for price in prices:
        since = price.since
        if isinstance(since, datetime.date) and since > day:
            continue
        least = measure(price.least) if price.least is not None else Fraction(0)
        if least is None:
            return "no density to turn a price break by volume into a mass"
        known = found.get(least)
        if known is None or _since(known) <= _since(price):
            found[least] = price
    if not found:
        return f"no price in force on {day}" if prices else "no price"
    return found


def break_of(name: str, breaks: dict[Fraction, Price], needed: Fraction | None) -> tuple[Price, str]:
    """Choose the break that a need reaches, the lowest where it reaches none: that is said, with the name."""
    reached = [least for least in breaks if needed is not None and least <= needed]
    least = max(reached) if reached else min(breaks)
    remark = ""
    if not reached and least:
        why = "less is needed" if needed is not None else "no batch size is stated"
        remark = f"{name}: priced at its lowest break, from {breaks[least].least} ({why})"
    return breaks[least], remark


def _of_break(ingredient: Ingredient, breaks: dict[Fraction, Price], needed: Fraction | None) -> PriceInForce | str:
    price, remark = break_of(ingredient.id, breaks, needed)
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
    """The batch (kg) that costs are quoted for: as asked, else the recipe's, else the workspace's."""
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
    """The cost of the raw materials of one kg."""
    found = costing(sums, terms)
    unit = f"{found.currency or 'currency'}/kg"
    return Figure("cost_per_kg", None if found.missing else found.per_kg, unit, found.missing, found.remarks)
