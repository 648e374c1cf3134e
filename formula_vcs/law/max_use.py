"""How much of a material may be in a product, as the papers of its supplier say it (``[max_use]`` of its file).

A fragrance comes with a certificate that allows so much of it in a face cream and so much in a soap; an active with the
highest share that was tested.  The name of a type of product takes precedence over where it stays (leave-on, rinse-off,
oral), that over ``any product``; of several types that a product is, the least share counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.figures.composition import HUNDRED
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.limit_use import CountedAmount, weighed
from formula_vcs.model.facts import below, unread
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.law_row import Product
from formula_vcs.model.values import dataclass

ANY: Final = "any product"


@dataclass(frozen=True, slots=True)
class MaxUse:
    """A material in a product, and the most of it that its file allows there.

    ``meant`` is the name of the file's entry that counts, ``allowed`` its share in % w/w; empty and None where the file
    has entries and none is for this product, or where it is not known what the product is.
    """

    material: Ingredient
    amount: CountedAmount
    meant: str = ""
    allowed: Fraction | None = None


def stated_uses(material: Ingredient) -> Mapping[str, Fraction]:
    """The most of a material that its file allows, in % w/w of the product, by the name of the product."""
    return {
        name: Fraction(value)
        for name, value in below(material.facts, "max_use").items()
        if isinstance(value, Decimal) and name != "source"
    }


def use_source(material: Ingredient, name: str) -> str:
    """Say where an entry is from, as the file states it; nothing where it does not."""
    own, of_all = material.get("max_use", name, "source"), material.get("max_use", "source")
    return own or of_all or ""


def max_uses(found: Compliance) -> Iterator[MaxUse]:
    """Every material in a product, premixes seen through, whose file says how much of it may be used."""
    for name, share in found.sums.leaves.items():
        material = found.formula.ingredients.get(name)
        stated = stated_uses(material) if material is not None and share else {}
        if material is None or not stated or any(path[0] == "max_use" for path, _ in unread(material.facts)):
            continue
        meant = _meant(stated, found.product) if found.product is not None else None
        nominal = share * HUNDRED
        shares = _shares(found, name)
        amount = weighed(
            found,
            CountedAmount(nominal, Fraction(0), nominal, nominal, nominal, least=nominal),
            lambda one, shares=shares: shares.get(one, Fraction(0)),  # type: ignore[misc]
        )
        yield MaxUse(material, amount) if meant is None else MaxUse(material, amount, meant, stated[meant])


def _meant(stated: Mapping[str, Fraction], product: Product) -> str | None:
    """The entry that is about a product."""
    types = [name for name in stated if name in product.types]
    for names in (types, [product.contact], [ANY]):
        there = [name for name in names if name in stated]
        if there:
            return min(there, key=lambda name: stated[name])
    return None


def _shares(found: Compliance, material: str) -> Mapping[str, Fraction]:
    """The share (0 to 1) of a material in itself and in each premix of a recipe."""
    shares = {material: Fraction(1)}
    for name in found.formula.order:  # inner premixes first
        premix = found.formula.premix_of(name)
        if premix is not None:
            parts = found.sums.premix(premix.id).by_ingredient().items()
            shares[name] = sum((pct * shares[one] / HUNDRED for one, pct in parts if one in shares), Fraction(0))
    return shares
