"""COSMOS-standard, edition 4: cosmos-organic-4 and cosmos-natural-4.

Gates first: nothing from a forbidden process, non-natural ingredients only from the list, petrochemical moieties only
in the listed families.  Then the percentages: organic share of the physically processed at least 95 %; organic share
of the product at least 20 %, or 10 % where it is rinsed off, aqueous and not emulsified, or 80 % and more mineral;
petrochemical moieties at most 2 %.  The mark of 95 % natural origin is a common summary, so it is asked about here
and not decided.  Clauses 6 and 7 were not read: sources are certifiers' guides.  Not judged: the list of ingredients
that must be organic, palm oil, packaging.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.standards import ClaimOutcome, Cosmos, of_material, of_product
from formula_vcs.law.claims.contents import allowed, forbidden, materials
from formula_vcs.law.claims.part import ClaimCondition, at_least, at_most, verdict
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.identity import law_key
from formula_vcs.law.limit_use import percent
from formula_vcs.model.law_row import LawRow

PACK: Final = "cosmos-4"
HUNDRED: Final = Fraction(100)
_LISTED: Final = "COSMOS-standard, edition 4, appendix V [commentary]"
MOST_PEMO: Final = Fraction(2)
LEAST_PPAI: Final = Fraction(95)
MINERAL_SWITCH: Final = Fraction(80)
LEAST, LEAST_LOWER = Fraction(20), Fraction(10)


def cosmos(found: Compliance, claim: str, day: datetime.date) -> ClaimOutcome:
    """Judge one of the two levels."""
    shares = of_product(found.sums, day)
    parts = [*gates(found), at_most("petrochemical moieties", shares.classes["pemo"], MOST_PEMO)]
    if claim == "cosmos-organic-4":
        parts += [_processed(shares), _total(found, shares)]
    unread = "the list of what must be organic, palm oil and packaging are not judged here"
    return verdict(claim, [*parts, ClaimCondition(True, unread)])


def _processed(shares: Cosmos) -> ClaimCondition:
    """Ask for the organic share of what is physically processed, where there is any."""
    share = shares.ppai_organic_share
    if share is None:
        return ClaimCondition(True, f"nothing in it is physically processed, so the {percent(LEAST_PPAI)} do not apply")
    return at_least("organic share of what is physically processed", share, LEAST_PPAI)


def _total(found: Compliance, shares: Cosmos) -> ClaimCondition:
    """Ask the organic share of the product to reach 20 %, or 10 % where one of the three exceptions holds."""
    mineral = shares.classes["mineral"]
    exception = _exception(found)
    if exception:
        return at_least("organic share of the product", shares.organic, LEAST_LOWER, exception)
    if mineral.low >= MINERAL_SWITCH:
        return at_least("organic share of the product", shares.organic, LEAST_LOWER, ", 80 % mineral or more")
    upper = at_least("organic share of the product", shares.organic, LEAST)
    if upper.met or mineral.high < MINERAL_SWITCH:
        return upper
    lower = at_least("organic share of the product", shares.organic, LEAST_LOWER)
    if lower.met is False:
        return lower
    return ClaimCondition(
        None, "which organic share it needs hangs on the minerals in it", mineral.missing or upper.missing
    )


def _exception(found: Compliance) -> str:
    if found.product is not None and found.product.contact in ("rinse-off", "oral"):
        return ", rinsed off"
    form = found.formula.recipe.get("form")
    return ", aqueous and not emulsified" if form == "aqueous" else ""


def gates(found: Compliance) -> Iterator[ClaimCondition]:
    """Judge what no percentage can heal."""
    yield from forbidden(found, PACK)
    listed = allowed(PACK, "cosmos-4-preservative", "cosmos-4-other")
    moieties = allowed(PACK, "cosmos-4-moiety")
    minerals = allowed(PACK, "cosmos-4-mineral")
    for name, material in materials(found, lambda _: True):
        shares = of_material(material)
        names = {law_key(inci): inci for inci in material.substances}
        if shares.classes["nni"].value:
            yield from _non_natural(name, names, listed, shares)
        if shares.classes["pemo"].value and not names.keys() & moieties.keys():
            words = f"'{name}': whether its petrochemical moieties are of a listed family"
            yield ClaimCondition(None, words, (f"{name}: the COSMOS approval, from its supplier",))
        if shares.classes["mineral"].value and not names.keys() & minerals.keys():
            words = f"'{name}': whether its minerals are on the list"
            yield ClaimCondition(None, words, (f"{name}: the COSMOS approval, from its supplier",))


def _non_natural(
    name: str, names: dict[str, str], listed: dict[str, LawRow], shares: Cosmos
) -> Iterator[ClaimCondition]:
    """Fail a material whose non-natural part cannot all be on the list."""
    strange = [inci for key, inci in names.items() if key not in listed and key != "aqua"]
    on_list = [key for key in names if key in listed]
    only_those = shares.classes["nni"].low + shares.classes["water"].low >= HUNDRED
    if strange and (not on_list or only_those):
        yield ClaimCondition(False, f"{', '.join(strange)} in '{name}': non-natural and on no list ({_LISTED})")
