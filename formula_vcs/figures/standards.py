"""Natural and organic content, as the standards count it, and what becomes of a claim.

Formulas by the public certification practice (edition 4; the clause texts were not read, see the facts in
DEVELOPERS.md): organic % = sum of organic parts; natural origin % = 100 - non-natural - petrochemical moieties
(clause 7.3, from memory); rebuilt juice: `rebuilt.py`; extracts without declared shares: `making.py`, computed.

7 CFR 205.302(a): organic ingredients / all ingredients x 100, both without water and salt; 205.302(b): rounded down to
a whole number (the 2023 wording of (a) is from memory).  Water that rebuilds a juice is water here: certifiers differ,
so it is never counted.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from functools import partial
from math import floor
from typing import Final, Literal

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.extract import COMPUTED, Shares, cosmos_shares, made, rebuilt
from formula_vcs.figures.figure import Figure, Terms, unsettled
from formula_vcs.figures.interval import Interval, between, known, ratio, total
from formula_vcs.figures.interval import total as added
from formula_vcs.model.facts import Unread
from formula_vcs.model.ingredient import COSMOS_CLASSES, Ingredient, is_water
from formula_vcs.model.values import dataclass, field
from formula_vcs.words.numbers import exact_text

# --- The shares that the COSMOS-standard works with: physically and chemically processed agro-ingredients, and the
# rest


HUNDRED: Final = Fraction(100)


@dataclass(frozen=True)
class Cosmos:
    """The shares of a material or of a product, in % of it."""

    classes: dict[str, Interval]
    ppai_organic: Interval
    cpai_organic: Interval
    computed: tuple[str, ...] = ()

    @property
    def organic(self) -> Interval:
        """The organic share of the whole."""
        return self.ppai_organic + self.cpai_organic

    @property
    def ppai_organic_share(self) -> Interval | None:
        """The organic share of what is physically processed; None where there is none of it: 0 of 0."""
        if not self.classes["ppai"].high:
            return None
        return ratio(self.ppai_organic, self.classes["ppai"])

    @property
    def natural_origin(self) -> Interval:
        """What is neither non-natural nor a petrochemical moiety."""
        less = self.classes["pemo"] + self.classes["nni"]
        return Interval(HUNDRED - less.high, HUNDRED - less.low, less.missing)


def of_material(material: Ingredient, day: datetime.date | None = None) -> Cosmos:
    """The shares of a material: declared, else computed from its making, else open."""
    return material.derived.cached(("cosmos", day), lambda: _of_material(material, day))


def _of_material(material: Ingredient, day: datetime.date | None) -> Cosmos:
    declared = {
        name: Fraction(value)
        for name in (*COSMOS_CLASSES, "ppai_organic", "cpai_organic")
        if (value := material.get("cosmos", name, kind=Decimal)) is not None
    }
    if declared:
        return _declared(material, declared, day)
    if material.substances and all(map(is_water, material.substances)):
        return _closed(dict.fromkeys(COSMOS_CLASSES, known(Fraction(0))) | {"water": known(HUNDRED)})
    making = made(material)
    shares = cosmos_shares(making) if making is not None and not isinstance(making, str) else making
    if isinstance(shares, Shares):
        return _computed(material, shares)
    why = f"{material.id}: {shares}" if isinstance(shares, str) else f"{material.id}: no [cosmos] shares"
    return _unknown(why)


def _unknown(why: str) -> Cosmos:
    """Give shares of which nothing is known, for a reason."""
    open_share = between(Fraction(0), HUNDRED, why)
    return Cosmos(dict.fromkeys(COSMOS_CLASSES, open_share), open_share, open_share)


def _refused(material: Ingredient, whole: Fraction) -> str:
    """Say why the classes that a file states are no shares of the material; empty where they are."""
    unread = [name for name in COSMOS_CLASSES if isinstance(material.facts.get(("cosmos", name)), Unread)]
    if unread:
        return f"{unread[0]} in [cosmos] cannot be read"
    return "" if whole == HUNDRED else f"its [cosmos] classes add up to {exact_text(whole)} %, not to 100 %"


def _closed(classes: dict[str, Interval]) -> Cosmos:
    return Cosmos(classes, known(Fraction(0)), known(Fraction(0)))


def _declared(material: Ingredient, declared: dict[str, Fraction], day: datetime.date | None) -> Cosmos:
    refused = _refused(material, sum((declared.get(name, Fraction(0)) for name in COSMOS_CLASSES), Fraction(0)))
    if refused:
        return _unknown(f"{material.id}: {refused}")
    classes = {name: known(declared.get(name, Fraction(0))) for name in COSMOS_CLASSES}
    ended = _ended(material, day)

    def organic(name: str) -> Interval:
        whole = declared.get(name, Fraction(0))
        part = declared.get(f"{name}_organic")
        if not whole:
            return known(Fraction(0))
        if part is None:
            return between(Fraction(0), whole, f"{material.id}: no {name}_organic in [cosmos]")
        if part and ended:
            return between(Fraction(0), part, f"{material.id}: its organic certificate ended on {ended}")
        return known(min(part, whole))

    return Cosmos(classes, organic("ppai"), organic("cpai"))


def _ended(material: Ingredient, day: datetime.date | None) -> datetime.date | None:
    """The day on which the last certificate of a material ended, where all have."""
    ends = [value for path, value in material.facts.items() if path[0] == "certificate" and path[-1] == "valid_to"]
    dates = [end for end in ends if isinstance(end, datetime.date)]
    return max(dates) if dates and day is not None and max(dates) < day else None


def _computed(material: Ingredient, shares: Shares) -> Cosmos:
    zero = known(Fraction(0))
    classes = dict.fromkeys(COSMOS_CLASSES, zero) | {
        "ppai": known(shares.ppai),
        "cpai": known(shares.cpai),
        "water": known(HUNDRED - shares.ppai - shares.cpai),
    }

    def organic(part: Fraction | None, whole: Fraction) -> Interval:
        return known(part) if part is not None else between(Fraction(0), whole, f"{material.id}: 'organic' in [made]")

    return Cosmos(
        classes,
        organic(shares.ppai_organic, shares.ppai),
        organic(shares.cpai_organic, shares.cpai),
        (f"{material.id}: {COMPUTED}",),
    )


def of_product(sums: Breakdown, day: datetime.date | None = None, *, rebuild: bool = True) -> Cosmos:
    """The shares of a product; ``rebuild`` counts rebuilt juice with its plant, up to the cap."""
    materials = {
        name: of_material(found, day)
        for name, share in sums.leaves.items()
        if share and (found := sums.formula.ingredients.get(name)) is not None and found.readable
    }

    def total(part: Callable[[Cosmos], Interval]) -> Interval:
        return added((part(materials.get(name, _UNREAD)), share) for name, share in sums.leaves.items() if share)

    classes = {name: total(partial(_class, name)) for name in COSMOS_CLASSES}
    ppai_organic = total(lambda shares: shares.ppai_organic)
    for concentrate, (_, share) in (rebuilt(sums) if rebuild else {}).items():
        plant = materials.get(concentrate)
        if plant is not None and plant.classes["ppai"].low:
            classes["ppai"] += known(share * HUNDRED)
            classes["water"] += known(-share * HUNDRED)
            ppai_organic += ratio(plant.ppai_organic, plant.classes["ppai"]).times(share)
    left = unsettled(sums)
    if left:
        classes = {name: Interval(value.low, value.high, (*value.missing, *left)) for name, value in classes.items()}
    notes = tuple(note for shares in materials.values() for note in shares.computed)
    return Cosmos(classes, ppai_organic, total(lambda shares: shares.cpai_organic), notes)


def _class(name: str, shares: Cosmos) -> Interval:
    return shares.classes[name]


_OPEN: Final = between(Fraction(0), HUNDRED, "an ingredient that does not exist or does not parse")
_UNREAD: Final = Cosmos(dict.fromkeys(COSMOS_CLASSES, _OPEN), _OPEN, _OPEN)
NO_PPAI: Final = "organic share of what is physically processed: there is none of it (0 of 0), so it does not apply"
_PARTS: Final[dict[str, Callable[[Cosmos], Interval | None]]] = {
    "cosmos_ppai": lambda shares: shares.classes["ppai"],
    "cosmos_ppai_organic": lambda shares: shares.ppai_organic,
    "cosmos_ppai_organic_share": lambda shares: shares.ppai_organic_share,
    "cosmos_organic_total": lambda shares: shares.organic,
    "cosmos_mineral": lambda shares: shares.classes["mineral"],
    "cosmos_pemo": lambda shares: shares.classes["pemo"],
    "cosmos_nni": lambda shares: shares.classes["nni"],
    "cosmos_natural_origin": lambda shares: shares.natural_origin,
}
NAMES: Final = tuple(_PARTS)


def figure(sums: Breakdown, terms: Terms, name: str) -> Figure:
    """One of the shares in % of the product (the organic share of PPAI: in % of the PPAI)."""
    # eight figures are read off one sum
    shares = sums.cached(("cosmos", terms.day), lambda: of_product(sums, terms.day))
    found = _PARTS[name](shares)
    if found is None:
        return Figure(name, None, "%", basis=(NO_PPAI, *shares.computed))
    return Figure(name, found.value, "%", tuple(dict.fromkeys(found.missing)), shares.computed)


# --- The organic share by the USDA National Organic Program: organic matter by weight, water and salt left out


def _shares(material: Ingredient | None, name: str) -> tuple[Interval, Interval]:
    """What counts of a material and what of it is organic, in % of it."""
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
    """What counts of a material, neither water nor salt, and what of it is organic, both in % of it."""
    material = sums.formula.ingredients.get(name)
    if material is None:
        return _shares(None, name)
    return material.derived.cached("nop", lambda: _shares(material, name))


def organic_share(sums: Breakdown) -> Interval:
    """The organic share in % of what is neither water nor salt, as far as it is known."""
    parts = [(*nop_parts(sums, name), share) for name, share in sums.leaves.items() if share]
    counted = total((base, share) for base, _, share in parts)
    organic = total((part, share) for _, part, share in parts)
    found = ratio(organic, counted)
    return Interval(found.low, found.high, (*found.missing, *unsettled(sums)))


def nop_organic(sums: Breakdown, _: Terms) -> Figure:
    """The organic share, exact."""
    found = sums.cached("nop_organic", lambda: organic_share(sums))
    return Figure("nop_organic", found.value, "%", found.missing)


def nop_organic_label(sums: Breakdown, terms: Terms) -> Figure:
    """The organic share as a label may state it: rounded down to a whole number."""
    found = nop_organic(sums, terms)
    value = None if found.value is None else Fraction(floor(found.value))
    return Figure("nop_organic_label", value, "%", found.missing, ("rounded down, 7 CFR 205.302(b)",))


# --- What became of a claim that a recipe states


Verdict = Literal["holds", "fails", "needs information"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A number in % that a claim holds against a limit: at least that, or at most."""

    what: str
    value: Interval
    limit: Fraction
    least: bool


@dataclass(frozen=True, slots=True)
class ClaimOutcome:
    """The verdict on one claim, and why; ``missing`` names the facts that it waits for, ``marks`` its numbers."""

    claim: str
    verdict: Verdict
    because: str
    missing: tuple[str, ...] = ()
    marks: tuple[Mark, ...] = field(default=(), compare=False, repr=False)
