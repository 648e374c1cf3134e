"""Weak-acid preservatives of a recipe: how much of each is free at its pH, in the water phase.

An estimate.  It replaces no challenge test: what a preservative does in a product is found by trying (ISO 11930).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any, Final, NamedTuple

from formula_vcs.chemistry.equilibrium import fractions
from formula_vcs.chemistry.substances import forms_of
from formula_vcs.chemistry.tables import load
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms, unsettled
from formula_vcs.model.quantity import Range

CAUTION: Final = "estimate: ideal solution at 25 degC; it replaces no challenge test"
CAN_BE: Final = (-2.0, 16.0)
_NO_WATER: Final = "no water: nothing dissociates"


class Acid(NamedTuple):
    """A weak acid in a recipe: ``total`` % w/w of the product as free acid, ``row`` its row in the table of acids."""

    name: str
    title: str
    total: Fraction
    row: dict[str, Any]

    def free(self, pH: float) -> float:
        """Give the undissociated fraction at a pH, 0 to 1."""
        return fractions(pH, self.row["pka"])[0]


class Free(NamedTuple):
    """The free acid of one preservative at both ends of a pH range: % of all of it, and % w/w of the water phase."""

    acid: Acid
    pH: tuple[float, float]
    fraction: tuple[float, float]
    in_water: tuple[float, float]


def weak_acids(sums: Breakdown) -> list[Acid]:
    """Give the weak acids that preserve a recipe, salts counted as their acid."""
    rows = load("acids")["acids"]
    totals: dict[str, Fraction] = {}
    for inci, pct in sums.substances.items():
        for form in forms_of(inci, sums.names[inci][1]) if pct else ():
            if rows[form.acid].get("preservative"):
                moles = pct * Fraction(str(form.units)) / Fraction(str(form.molar_mass))
                acid = moles * Fraction(str(rows[form.acid]["molar_mass"]))
                totals[form.acid] = totals.get(form.acid, Fraction(0)) + acid
    return [Acid(name, rows[name]["title"], totals[name], rows[name]) for name in rows if name in totals]


def is_buffer(inci: str) -> bool:
    """Say whether a substance (folded INCI name) is the salt of a weak acid that the table has."""
    rows = load("acids")["acids"]
    return any(form.base and not rows[form.acid]["charge"] for form in forms_of(inci))


def brings_preservative(inci: str) -> bool:
    """Say whether a substance (folded INCI name) is or brings a weak acid that preserves."""
    rows = load("acids")["acids"]
    return any(rows[form.acid].get("preservative") for form in forms_of(inci))


def spec_range(sums: Breakdown) -> tuple[float, float] | None:
    """Give the pH range of the spec; None where there is none, an end is open, or no pH can be that far out."""
    span: Range | None = sums.formula.recipe.spec.get("pH")
    if span is None or span.low is None or span.high is None:
        return None
    low, high = float(span.low.base), float(span.high.base)
    return (low, high) if CAN_BE[0] <= low and high <= CAN_BE[1] else None


def free_acids(sums: Breakdown) -> list[Free]:
    """Give each weak-acid preservative over the recipe's pH range; empty without a range or without water."""
    span = spec_range(sums)
    wet = float(water_pct(sums))
    if span is None or wet <= 0:
        return []
    return [_free(acid, span, wet) for acid in weak_acids(sums)]


def _free(acid: Acid, span: tuple[float, float], wet: float) -> Free:
    low, high = acid.free(span[0]), acid.free(span[1])
    total = float(acid.total)
    return Free(acid, span, (low, high), tuple(_of_phase(total * part, wet) for part in (low, high)))  # type: ignore[arg-type]


def _of_phase(free: float, wet: float) -> float:
    """Give % of the water phase, water and acid together, the oil's share not taken off."""
    return 100 * free / (wet + free)


def water_pct(sums: Breakdown) -> Fraction:
    """Give all water in % of the product, that inside materials included."""
    return sums.substances.get("aqua", Fraction(0))


def said(free: Free) -> str:
    """Say a free acid: ``free benzoic acid 0.068 to 0.031 % of the water phase (20 to 9 % of it) at pH 4.8 to 5.2``."""
    low, high = free.in_water
    return (
        f"free {free.acid.title} {low:.3f} to {high:.3f} % of the water phase "
        f"({100 * free.fraction[0]:.3g} to {100 * free.fraction[1]:.3g} % of it) at pH {free.pH[0]:g} to {free.pH[1]:g}"
    )


def _lacking(sums: Breakdown) -> list[str]:
    missing = unsettled(sums) + [f"{name}: no composition" for name in sums.unnamed]
    if spec_range(sums) is None:
        missing.append("the spec states no pH range")
    return missing


def free_acid(sums: Breakdown, _: Terms) -> Figure:
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
