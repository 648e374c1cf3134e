"""What the packaging of one pack costs: pieces at the price in force, with what is spoiled."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.cost import batch_mass, break_of, costing, in_force
from formula_vcs.figures.density import pack_mass
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.model.amount import Price
from formula_vcs.model.facts import Unread
from formula_vcs.model.formula import Formula
from formula_vcs.model.packaging import Packaging, PackItem
from formula_vcs.model.quantity import Rate, exchange
from formula_vcs.model.values import dataclass
from formula_vcs.words.numbers import shown

_COUNTED: Final = frozenset({"each", "scrap", "price"})


@dataclass(frozen=True, slots=True)
class PieceCost:
    """One kind of piece: how many are bought for one good pack, and what they cost in the currency of the costs."""

    item: PackItem
    needed: Fraction
    cost: Fraction
    price: Price


@dataclass(frozen=True, slots=True)
class PackCosting:
    """The packaging of one pack.  ``missing`` names what is not known for it; then ``total`` is none."""

    pieces: tuple[PieceCost, ...]
    missing: tuple[str, ...]
    remarks: tuple[str, ...]
    rates: tuple[Rate, ...]

    @property
    def total(self) -> Fraction:
        """What all pieces cost."""
        return sum((one.cost for one in self.pieces), Fraction(0))


def packaging_of(formula: Formula) -> Packaging | None:
    """What a recipe is filled into, where it names it and its file is there."""
    return formula.packaging.get(formula.recipe.packaging or "")


def filling(
    formula: Formula, overfill: Fraction | None = None, out: Fraction | None = None
) -> tuple[Fraction, Fraction]:
    """What is filled over the nominal content, and which share of what goes in gets into packs.

    As a batch says (``overfill``, its yield ``out``), else as the packaging and the recipe do; what filling loses by
    the packaging comes off either way.
    """
    pack, yields = packaging_of(formula), formula.recipe.yields
    over = overfill if overfill is not None else Fraction(0) if pack is None else pack.share("overfill")
    made = out if out is not None else Fraction(1) if yields is None else yields.base
    return over, made * (1 - (Fraction(0) if pack is None else pack.share("loss")))


def filled_mass(sums: Breakdown) -> Fraction | None:
    """How many kg of raw materials go into making one good pack: with overfill, loss in filling and yield."""
    pack = sums.formula.recipe.pack
    mass = None if pack is None else pack_mass(sums, pack).mass
    over, out = filling(sums.formula)
    return None if mass is None else mass * (1 + over) / out


def pieces_for(formula: Formula, packs: int) -> Iterator[str]:
    """Say how many of each piece a number of good packs takes, what is spoiled included: ``tube: 1,347``."""
    pack = packaging_of(formula)
    for item in pack.items if pack is not None else ():
        title = f" ({item.title})" if item.title != item.id else ""
        scrap = f", {shown(item.scrap * 100, 0, 2)} % of them scrap" if item.scrap else ""
        yield f"{item.id}{title}: {ceil(packs * item.needed):,}{scrap}"


def packs_of_batch(sums: Breakdown, terms: Terms) -> Fraction | None:
    """How many good packs a batch makes, not rounded."""
    batch, each = batch_mass(sums, terms), filled_mass(sums)
    return None if batch is None or not each else batch / each


def pack_costing(sums: Breakdown, terms: Terms, currency: str) -> PackCosting:
    """Price every piece at the quantity that the batch needs of it."""
    formula = sums.formula
    name = formula.recipe.packaging
    pack = packaging_of(formula)
    if name is None:
        return PackCosting((), (), (), ())
    if pack is None or not pack.readable:
        return PackCosting((), (f"{name}: no such packaging, or its file does not parse",), (), ())
    packs = packs_of_batch(sums, terms)
    pieces: list[PieceCost] = []
    missing = [] if pack.items else [f"{pack.id}: no [item.NAME] of it is stated"]
    spoiled = [name for name in ("overfill", "loss") if isinstance(pack.facts.get((name,)), Unread)]
    missing += [f"{pack.id}: its {name} cannot be read" for name in spoiled]
    remarks: list[str] = []
    used: dict[Rate, list[str]] = {}
    for item in pack.items:
        called = f"{pack.id}/{item.id}"
        if any(isinstance(value, Unread) and path and path[0] in _COUNTED for path, value in item.facts.items()):
            missing.append(f"{called}: a value of it cannot be read")
            continue
        prices = in_force(item.prices, terms.day, lambda least: least.base)
        if isinstance(prices, str):
            missing.append(f"{called}: {prices}")
            continue
        price, remark = break_of(called, prices, None if packs is None else packs * item.needed)
        rated = exchange(formula.workspace.rates, price.cost.currency, currency, terms.day)
        own = price.cost.currency == currency
        if isinstance(rated, str) and not own:
            missing.append(f"{called}: {rated}")
            continue
        remarks += [remark] if remark else []
        factor = Fraction(1)
        if not own and not isinstance(rated, str):
            factor = rated[0]
            used.setdefault(rated[1], []).append(called)
        pieces.append(PieceCost(item, item.needed, price.cost.base * factor * item.needed, price))
    remarks += [f"{', '.join(names)}: converted at {rate}" for rate, names in used.items()]
    return PackCosting(tuple(pieces), tuple(missing), tuple(remarks), tuple(used))


def spoken(found: PackCosting, bulk: Fraction, currency: str) -> str:
    """Say what the cost of a pack is made of: ``per pack: bulk 0.31, tube 0.186, cap 0.021 EUR``."""
    parts = ", ".join(f"{one.item.id} {shown(one.cost, 3, 4)}" for one in found.pieces)
    return f"per pack: bulk {shown(bulk, 3, 4)}, {parts} {currency}".rstrip()


def losses(formula: Formula) -> str:
    """Say what is lost on the way from raw materials to a pack; empty where nothing is stated."""
    pack, out = packaging_of(formula), formula.recipe.yields
    said = [] if out is None else [f"yield {out}"]
    for name in ("overfill", "loss") if pack is not None else ():
        stated = None if pack is None else pack.facts.get((name,))
        said += [] if stated is None else [f"{name} {stated}"]
    return ", ".join(said)


def cost_per_pack(sums: Breakdown, terms: Terms) -> Figure:
    """The cost of one pack: raw materials with what is lost, and the packaging where the recipe names it.

    A volume is weighed by the density that is best known.  Without packaging it is the raw materials alone.
    """
    found = costing(sums, terms)
    formula = sums.formula
    unit = f"{found.currency or 'currency'}/pack"
    pack = formula.recipe.pack
    if pack is None:
        return Figure("cost_per_pack", None, unit, ("the recipe states no pack",))
    weighed = pack_mass(sums, pack)
    packed = pack_costing(sums, terms, found.currency)
    missing = [*found.missing, *weighed.missing, *packed.missing]
    missing += ["the recipe's yield cannot be read"] if isinstance(formula.recipe.facts.get(("yield",)), Unread) else []
    basis = [*found.remarks, *(() if weighed.density is None else weighed.density.basis), *packed.remarks]
    estimate = weighed.density is not None and weighed.density.estimate
    mass = filled_mass(sums)
    if missing or mass is None:
        return Figure("cost_per_pack", None, unit, tuple(missing), tuple(basis), estimate)
    bulk = found.per_kg * mass
    basis += [spoken(packed, bulk, found.currency)] if packed.pieces else []
    lost = losses(formula)
    basis += [f"bulk of a pack: with {lost}"] if lost else []
    return Figure("cost_per_pack", bulk + packed.total, unit, (), tuple(basis), estimate)
