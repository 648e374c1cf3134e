"""Weak-acid preservatives of a recipe: how much of each is free at its pH, in the water phase.

An estimate.  It replaces no challenge test: what a preservative does in a product is found by trying (ISO 11930).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any, Final, NamedTuple

from formula_vcs.figures import acids
from formula_vcs.figures.breakdown import Sums
from formula_vcs.figures.figure import Figure, Terms, unsettled
from formula_vcs.figures.origin import water
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.quantity import Range
from formula_vcs.toml.package_data import load

CAUTION: Final = "estimate: ideal solution at 25 degC; it replaces no challenge test"
_CAN_BE: Final = (-2.0, 16.0)
_NO_WATER: Final = "no water: nothing dissociates"


class Acid(NamedTuple):
    """A weak acid in a recipe: ``total`` % w/w of the product as free acid, ``row`` its line in acids.toml."""

    name: str
    title: str
    total: Fraction
    row: dict[str, Any]

    @property
    def preservative(self) -> bool:
        """Say whether it is there to preserve."""
        return bool(self.row.get("preservative", False))

    def free(self, pH: float) -> float:
        """Give the undissociated fraction at a pH, 0 to 1."""
        return acids.fractions(pH, self.row["pka"])[0]


class Free(NamedTuple):
    """The free acid of one preservative at both ends of a pH range: % of all of it, and % w/w of the water phase."""

    acid: Acid
    pH: tuple[float, float]
    fraction: tuple[float, float]
    in_water: tuple[float, float]


def names() -> frozenset[str]:
    """Give the INCI names (folded) of all that brings a weak-acid preservative."""
    rows = load("acids").values()
    return frozenset(name for row in rows if row.get("preservative") for name in row["forms"])


def is_buffer(inci: str) -> bool:
    """Say whether a substance (folded INCI name) is the salt of a weak acid that the table has."""
    return any(row["forms"].get(inci, {}).get("base") for row in load("acids").values())


def weak_acids(sums: Sums) -> tuple[list[Acid], float]:
    """Give the weak acids of a recipe, salts counted as their acid, and the base that they and alkalis bring.

    The base is in mol for 100 g of product.
    """
    found: list[Acid] = []
    base = 0.0
    for name, row in load("acids").items():
        total = Fraction(0)
        for inci, form in row["forms"].items():
            pct = sums.substances.get(inci_key(inci), Fraction(0))
            if pct:
                moles = pct / Fraction(str(form["molar_mass"]))
                total += moles * Fraction(str(row["molar_mass"]))
                base += float(moles) * form["base"]
        if total:
            found.append(Acid(name, row["title"], total, row))
    for inci, row in load("alkalis").items():
        pct = sums.substances.get(inci, Fraction(0))
        base += float(pct) / row["molar_mass"] * row["base"]
    return found, base


def spec_range(sums: Sums) -> tuple[float, float] | None:
    """Give the pH range of the spec; None where there is none, an end is open, or no pH can be that far out."""
    span: Range | None = sums.formula.recipe.spec.get("pH")
    if span is None or span.low is None or span.high is None:
        return None
    low, high = float(span.low.base), float(span.high.base)
    return (low, high) if _CAN_BE[0] <= low and high <= _CAN_BE[1] else None


def free_acids(sums: Sums) -> list[Free]:
    """Give each weak-acid preservative over the recipe's pH range; empty without a range or without water."""
    span = spec_range(sums)
    wet = float(water_pct(sums))
    if span is None or wet <= 0:
        return []
    return [_free(acid, span, wet) for acid in weak_acids(sums)[0] if acid.preservative]


def _free(acid: Acid, span: tuple[float, float], wet: float) -> Free:
    low, high = acid.free(span[0]), acid.free(span[1])
    total = float(acid.total)
    return Free(acid, span, (low, high), tuple(_of_phase(total * part, wet) for part in (low, high)))  # type: ignore[arg-type]


def _of_phase(free: float, wet: float) -> float:
    """Give % of the water phase, water and acid together, the oil's share not taken off."""
    return 100 * free / (wet + free)


def water_pct(sums: Sums) -> Fraction:
    """Give all water in % of the product, that inside materials included."""
    return sums.substances.get("aqua", Fraction(0))


def said(free: Free) -> str:
    """Say a free acid: ``free benzoic acid 0.068 to 0.031 % of the water phase (20 to 9 % of it) at pH 4.8 to 5.2``."""
    low, high = free.in_water
    return (
        f"free {free.acid.title} {low:.3f} to {high:.3f} % of the water phase "
        f"({100 * free.fraction[0]:.3g} to {100 * free.fraction[1]:.3g} % of it) at pH {free.pH[0]:g} to {free.pH[1]:g}"
    )


def _lacking(sums: Sums) -> list[str]:
    missing = unsettled(sums) + [f"{name}: no composition" for name in sums.unnamed]
    if spec_range(sums) is None:
        missing.append("the spec states no pH range")
    return missing


def free_acid(sums: Sums, _: Terms) -> Figure:
    """Give the free weak-acid preservatives at the highest pH of the spec, in % of the water phase, all together."""
    missing = _lacking(sums)
    if not water_pct(sums) and not missing:
        missing.append(_NO_WATER)
    if missing:
        return Figure("free_acid", None, "%", tuple(missing), (CAUTION,), estimate=True)
    found = free_acids(sums)
    value = Fraction(round(sum(free.in_water[1] for free in found), 5)).limit_denominator(100_000)
    basis = (*(said(free) for free in found), *(_memory(free.acid) for free in found if _memory(free.acid)), CAUTION)
    return Figure("free_acid", value, "%", (), basis if found else ("no weak-acid preservative",), estimate=True)


def _memory(acid: Acid) -> str:
    return f"pKa of {acid.title}: from memory" if acid.row["verified"] != "seen" else ""


def ph_estimate(sums: Sums, terms: Terms) -> Figure:
    """Give the pH at which the weak acids, salts and alkalis of the recipe balance; not known where others matter."""
    missing = unsettled(sums) + [f"{name}: no composition" for name in sums.unnamed]
    wet = water(sums, terms)
    found, base = weak_acids(sums)
    known = (
        frozenset(inci_key(name) for row in load("acids").values() for name in row["forms"]) | load("alkalis").keys()
    )
    for name in sums.leaves:
        material = sums.formula.ingredients.get(name)
        own = material.get("spec", "pH", kind=Range) if material is not None else None
        if material is None or material.inci & known:
            continue
        if own is not None and _strong(own):
            missing.append(f"{name}: its acid or alkali is not known, and its pH is {own}")
        elif "surfactant" in material.called:
            missing.append(f"{name}: what a surfactant brings of acid or alkali is not known")
    if not found and not base and not missing:
        missing.append("no acid or base whose constants are known")
    if wet.value is not None and not wet.value:
        missing.append(_NO_WATER)
    if missing or wet.value is None:
        return Figure("ph_estimate", None, "", tuple(missing or wet.missing), (CAUTION,), estimate=True)
    per_kg = 1000 / float(wet.value)
    amounts: dict[tuple[float, ...], float] = {}
    for acid in found:
        key = tuple(acid.row["pka"])
        amounts[key] = amounts.get(key, 0.0) + float(acid.total) / acid.row["molar_mass"] * per_kg
    value = Fraction(round(acids.pH_of(amounts, base * per_kg), 2)).limit_denominator(100)
    counted = ", ".join(acid.title for acid in found) or "alkali"
    basis = (f"counted: {counted}; water's own minerals, proteins and surfactants are not", CAUTION)
    return Figure("ph_estimate", value, "", (), basis, estimate=True)


def _strong(own: Range) -> bool:
    """Say whether a material is far from neutral: below pH 4 or above pH 9."""
    return (own.high is not None and own.high.base < 4) or (own.low is not None and own.low.base > 9)
