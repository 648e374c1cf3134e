"""France and Austria: fr-natural, fr-natural-origin, at-organic.

France: ARPP, "Produits cosmetiques", version 8 (from 1 July 2019): "natural" wants a natural content of 95 %, "of
natural origin" a natural-origin content of 95 %, by ISO 16128; with water in, as the figures stand.
Austria: Codex Alimentarius Austriacus, organic cosmetics, 6.3.2 and 6.4.1 to 6.4.2 (read): agricultural matter 95 %
organic; a least organic share of the product by its kind; water that thins a concentrate back never counts; an
organic and a conventional form of one ingredient do not go together.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.origin import content_between
from formula_vcs.figures.standards import ClaimOutcome, Cosmos, of_material, of_product
from formula_vcs.law.claims.contents import materials
from formula_vcs.law.claims.part import ClaimCondition, at_least, verdict
from formula_vcs.law.compliance import Compliance
from formula_vcs.model.law_row import Product
from formula_vcs.model.product import IN_OIL, OIL_IN_WATER

LEAST: Final = Fraction(95)
_MINERAL: Final = Fraction(80)


def french(found: Compliance, claim: str) -> ClaimOutcome:
    """Judge one of the two French words."""
    index = {"fr-natural": "natural", "fr-natural-origin": "natural_origin"}[claim]
    value = content_between(found.sums, index)
    return verdict(claim, [at_least(f"{index.replace('_', ' ')} content, water in,", value, LEAST)])


def austrian(found: Compliance, claim: str, day: datetime.date) -> ClaimOutcome:
    """Judge the Austrian organic cosmetic."""
    shares = of_product(found.sums, day, rebuild=False)
    what = "organic share of agricultural matter"
    grown = shares.ppai_organic_share
    agricultural = ClaimCondition(False, f"{what}: there is none") if grown is None else at_least(what, grown, LEAST)
    parts = [*_mixed_forms(found), agricultural]
    least, kind = _least(found, shares)
    if least is None:
        parts.append(
            ClaimCondition(
                None, "which organic share this kind of product needs", ("the product's 'form' in the recipe",)
            )
        )
    else:
        parts.append(at_least("organic share of the product", shares.organic, least, f", {kind}"))
    return verdict(claim, parts)


def _mixed_forms(found: Compliance) -> Iterator[ClaimCondition]:
    organic: dict[frozenset[str], str] = {}
    plain: dict[frozenset[str], str] = {}
    for name, material in materials(found, lambda made: bool(made.inci)):
        share = of_material(material).organic.value
        if share is not None:
            (organic if share else plain)[material.inci] = name
    for inci, name in organic.items():
        if inci in plain and inci != frozenset({"aqua"}):
            yield ClaimCondition(
                False, f"'{name}' and '{plain[inci]}' are an organic and a conventional form of one ingredient"
            )


def _least(found: Compliance, shares: Cosmos) -> tuple[Fraction | None, str]:
    """The least organic share of the product by its kind (6.4.1), and the kind."""
    product = found.product or Product("")
    form, kind = (found.formula.recipe.get(name) for name in ("form", "emulsion"))
    mineral = shares.classes["mineral"]
    if mineral.low > _MINERAL:
        return Fraction(10), "more than 80 % mineral"
    kinds: tuple[tuple[bool, int, str], ...] = (
        ("fragrance product" in product.types, 60, "perfume"),
        ("deodorant" in product.types, 20, "deodorant"),
        (product.contact == "oral", 20, "tooth and mouth care"),
        ("soap" in product.types, 20, "soap"),
        ("hair product" in product.types, 20, "hair treatment"),
        (form == "anhydrous", 90, "water-free oil or cleanser"),
        (form == "surfactant", 20, "surfactant cleanser"),
        (form == "aqueous", 20, "water"),
        (form == "emulsion" and kind in IN_OIL, 30, f"{kind} emulsion"),
        (form == "emulsion" and kind == OIL_IN_WATER, 20, "O/W emulsion"),
        (form == "emulsion", 20, "O/W emulsion or gel; W/O needs 30 %"),
    )
    return next(((Fraction(least), kind) for fits, least, kind in kinds if fits), (None, ""))
