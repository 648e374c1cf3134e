"""The ingredient list as a market wants it: with allergens, perfume and aroma, nano forms, and without what is none.

Regulation (EC) No 1223/2009, Article 19(1)(g) (order and colorants: `figures/label.py`; perfume and aroma as "parfum"
and "aroma", allergens of Annex III besides; nano suffix from memory), and 21 CFR 701.3(a), (f), (l): fragrance and
flavor may be named as such; the line at 1 % is "not above" (from memory); incidental ingredients (from memory).
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Sums
from formula_vcs.figures.composition import HUNDRED
from formula_vcs.figures.ingredient_list import LabelLine, colorant_of, colour_index
from formula_vcs.law.compliance import Compliance, Hit, in_force
from formula_vcs.law.identity import law_key
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.law_row import Row

# What a charge's `for` says, and the word of each market for it.
MIXTURES: Final = {
    "parfum": {"EU": "Parfum", "US": "Fragrance"},
    "aroma": {"EU": "Aroma", "US": "Flavor"},
}


@dataclass(slots=True)
class _Name:
    """A name of the list as it is put together; ``colour`` until something else brings it."""

    spelled: str
    pct: Fraction = Fraction(0)
    colour: bool = True


@dataclass(frozen=True, slots=True)
class Allergen:
    """An allergen of the packs in the product: the printed name, its sum in % w/w, the threshold, and the row."""

    printed: str
    pct: Fraction
    threshold: Fraction
    row: Row
    keys: tuple[str, ...]

    @property
    def named(self) -> bool:
        """Say whether the list has to name it."""
        return self.pct > self.threshold


def allergens(found: Compliance, hits: list[Hit]) -> list[Allergen]:
    """Give the allergens in the product; members of a group are added up under one name."""
    contact = found.product.contact if found.product is not None else ""
    listed: list[Allergen] = []
    for hit in hits:
        threshold = hit.row.threshold(contact)
        if hit.row.kind != "name" or threshold is None:
            continue
        groups = [hit.keys] if hit.row.printed else [[key] for key in hit.keys]
        for keys in groups:
            pct = sum((found.totals[key].pct for key in keys), Fraction(0))
            printed = hit.row.printed or found.spelled(keys[0])
            listed.append(Allergen(printed, pct, threshold, hit.row, tuple(keys)))
    return listed


def ingredient_list(formula: Formula, sums: Sums, day: datetime.date, market: str) -> tuple[LabelLine, ...]:
    """Give the list for a market on a day; equal shares stand in the order of their names, so it never flickers."""
    found = Compliance(formula, sums, market)
    named = [allergen for allergen in allergens(found, in_force(found, day)) if allergen.named]
    groups = {key: allergen.printed for allergen in named for key in allergen.keys}
    names: dict[str, _Name] = {}
    _collect(found, market, groups, names)
    lines = [LabelLine(name.spelled, name.pct, _part(name, market)) for name in names.values() if name.pct > 0]
    there = {law_key(line.inci) for line in lines}
    # constituents of what is listed already, so they stand behind it, among the names whose order is free
    constituents = [
        LabelLine(allergen.printed, allergen.pct, "free")
        for allergen in named
        if law_key(allergen.printed) not in there
    ]
    ordered, free, colours = (_sorted(lines, part) for part in ("ordered", "free", "colorant"))
    return (*ordered, *free, *_sorted(constituents, "free"), *colours)


def _sorted(lines: list[LabelLine], part: str) -> list[LabelLine]:
    return sorted((line for line in lines if line.part == part), key=lambda line: (-line.pct, line.inci))


def _part(name: _Name, market: str) -> str:
    if name.colour:
        return "colorant"
    above = name.pct > 1 if market == "US" else name.pct >= 1
    return "ordered" if above else "free"


def _collect(found: Compliance, market: str, groups: dict[str, str], names: dict[str, _Name]) -> None:
    shares: dict[str, Fraction] = {}
    for line in found.sums.composition.lines:
        mixture = MIXTURES.get(str(line.charge.more.get("for", "")).casefold())
        if mixture is not None:
            _add(names, mixture.get(market, mixture["EU"]), line.pct, colour=False)
        else:
            known = shares.get(line.charge.ingredient, Fraction(0))
            shares[line.charge.ingredient] = known + line.pct / HUNDRED
    for name, share in _seen_through(found, shares).items():
        material = found.formula.ingredients.get(name)
        if material is not None:
            _substances(material, share, groups, names)


def _seen_through(found: Compliance, shares: dict[str, Fraction]) -> dict[str, Fraction]:
    """Give the raw materials in some charges (shares of the product, 0 to 1), each premix opened once."""
    for name in reversed(found.formula.order):
        premix = found.formula.premix_of(name)
        if premix is None or name not in shares:
            continue
        share = shares.pop(name)
        for inner, pct in found.sums.premix(premix.id).by_ingredient().items():
            shares[inner] = shares.get(inner, Fraction(0)) + share * pct / HUNDRED
    return shares


def _substances(ingredient: Ingredient, share: Fraction, groups: dict[str, str], names: dict[str, _Name]) -> None:
    for inci, pct in ingredient.substances.items():
        if ingredient.get("substances", inci, "role") is not None:
            continue
        spelled = " ".join(inci.split())
        if ingredient.facts.get(("substances", inci, "nano")) is True and not spelled.casefold().endswith("(nano)"):
            spelled = f"{spelled} (nano)"
        colour = colour_index(inci) or colorant_of(ingredient, pct)
        key = law_key(spelled, ingredient.get("substances", inci, "cas") or "")
        _add(names, spelled, share * Fraction(pct), colour=colour, key=key, printed=groups)


def _add(
    names: dict[str, _Name],
    spelled: str,
    pct: Fraction,
    *,
    colour: bool,
    key: str = "",
    printed: dict[str, str] | None = None,
) -> None:
    key = key or law_key(spelled)
    if printed and key in printed:
        spelled = printed[key]
        key = law_key(spelled)
    known = names.setdefault(key, _Name(spelled))
    known.pct += pct
    known.colour = known.colour and colour
