"""USDA National Organic Program, 7 CFR 205.301 to 205.302, and NSF/ANSI 305 beside it.

nop-organic: at least 95 % organic, the rest on the National List or agricultural and not to be had organic.
nop-made-with: at least 70 %.  nsf-305, "contains organic ingredients": at least 70 % by the same calculation; the part
that is not organic may besides be a plant-derived chemical.  Water and salt are left out; a labelled figure is rounded
down, and so is the one that is compared (205.302(b)).
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import Final

from formula_vcs.figures.interval import Interval
from formula_vcs.figures.standards import ClaimOutcome, organic_share
from formula_vcs.law.claims.contents import allowed, forbidden, materials
from formula_vcs.law.claims.part import ClaimCondition, at_least, verdict
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.identity import law_key
from formula_vcs.model.ingredient import Ingredient

PACK: Final = "nop"
LEAST: Final = {"nop-organic": Fraction(95), "nop-made-with": Fraction(70), "nsf-305": Fraction(70)}


def nop(found: Compliance, claim: str) -> ClaimOutcome:
    """Judge one of the tiers."""
    share = organic_share(found.sums)
    rounded = Interval(Fraction(floor(share.low)), Fraction(floor(share.high)), share.missing)
    gates = _nsf_gates(found) if claim == "nsf-305" else [*forbidden(found, PACK), *_unlisted(found)]
    words = "organic share without water and salt, rounded down,"
    return verdict(claim, [*gates, at_least(words, rounded, LEAST[claim])])


def _unlisted(found: Compliance) -> Iterator[ClaimCondition]:
    """Ask about what is not organic and on no list known here."""
    listed = allowed(PACK, "nop-605", "nop-605-memory", "nop-606")
    refused = {
        law_key(part) for row_part in forbidden(found, PACK) for part in row_part.words.split(":")[0].split(", ")
    }
    for name, material in materials(found, _not_organic):
        names = [
            inci
            for inci in material.substances
            if law_key(inci) not in listed and law_key(inci) not in (*refused, "aqua", "sodium chloride")
        ]
        if names:
            words = f"{', '.join(names)} in '{name}': whether it is on the National List, or not to be had organic"
            yield ClaimCondition(
                None, words, (f"{name}: a place on 7 CFR 205.605 or 205.606, or proof of non-availability",)
            )


def _nsf_gates(found: Compliance) -> Iterator[ClaimCondition]:
    for name, material in materials(found, _not_organic):
        origin = material.index("natural_origin")
        if origin is None:
            words = f"'{name}': whether it is of natural origin"
            yield ClaimCondition(None, words, (f"{name}: no natural-origin index in [origin]",))
        elif origin == 0:
            listed = allowed(PACK, "nop-605", "nop-605-memory")
            names = [inci for inci in material.substances if law_key(inci) not in listed]
            if names:
                yield ClaimCondition(
                    False, f"{', '.join(names)}: neither on the National List nor plant-derived (NSF/ANSI 305)"
                )


def _not_organic(material: Ingredient) -> bool:
    return (material.get("nop", "organic", kind=Decimal) or 0) == 0
