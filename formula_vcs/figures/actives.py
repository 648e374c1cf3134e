"""Actives in ppm, fluoride among them, and the active matter of surfactants."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms, unsettled
from formula_vcs.model.ingredient import Ingredient, inci_key, is_water
from formula_vcs.words.numbers import shown

PPM: Final = 10_000
# Fluorine by mass, from standard atomic weights (F 18.998, Na 22.990, P 30.974, O 15.999, Sn 118.71, Ca 40.078): moles
# of fluorine over molar mass.  US monographs pair 850 to 1150 ppm of monofluorophosphate at 13.0 %: 1.6 % apart.
_F: Final = Fraction("18.998403")
FLUORIDE: Final[dict[str, Fraction]] = {
    "sodium fluoride": _F / Fraction("41.98817"),
    "stannous fluoride": 2 * _F / Fraction("156.70681"),
    "sodium monofluorophosphate": _F / Fraction("143.94837"),
    "calcium fluoride": 2 * _F / Fraction("78.07481"),
    "potassium fluoride": _F / Fraction("58.09670"),
    "ammonium fluoride": _F / Fraction("37.03693"),
    "olaflur": Fraction("0.0763"),  # from memory
}


def fluoride_ppm(sums: Breakdown, _: Terms) -> Figure:
    """The total fluoride in ppm (mg/kg), by stoichiometry; the certificate of the raw material goes before it."""
    missing = unsettled(sums) + [f"{name}: no composition" for name in sums.unnamed]
    value = Fraction(0)
    basis: list[str] = []
    for inci, fraction in FLUORIDE.items():
        pct = sums.substances.get(inci_key(inci), Fraction(0))
        if pct:
            value += pct * fraction * PPM
            basis.append(f"{inci}: {shown(fraction * 100, 2, 2)} % fluorine by stoichiometry")
    return Figure("fluoride_ppm", None if missing else value, "ppm", tuple(missing), tuple(basis))


def active_ppm(sums: Breakdown, _: Terms) -> Figure:
    """What is there as an active (by a function that names one), in ppm, the water of solutions left out."""
    missing = unsettled(sums)
    value = Fraction(0)
    basis: list[str] = []
    for name, share in sums.leaves.items():
        material = sums.formula.ingredients.get(name)
        if material is None or not any("active" in function.casefold().split() for function in material.functions):
            continue
        dry = _dry(material)
        if dry is None:
            missing.append(f"{name}: no composition")
            continue
        value += share * dry * PPM
        basis.append(f"{name}: {shown(share * dry * PPM, 0, 1)} ppm")
    return Figure("active_ppm", None if missing else value, "ppm", tuple(missing), tuple(basis))


def active_matter(sums: Breakdown, _: Terms) -> Figure:
    """The active surfactant in %: what an ingredient states, else what in it is neither water nor salt."""
    missing = unsettled(sums)
    value = Fraction(0)
    basis: list[str] = []
    for name, share in sums.leaves.items():
        material = sums.formula.ingredients.get(name)
        if material is None or "surfactant" not in material.called:
            continue
        stated = material.number("active")
        part = _dry(material) if stated is None else stated
        if part is None:
            missing.append(f"{name}: no composition and no 'active'")
            continue
        value += share * part
        basis.append(f"{name}: {shown(part, 0, 2)} % active{', by composition' if stated is None else ''}")
    return Figure("active_matter", None if missing else value, "%", tuple(missing), tuple(basis))


def _dry(material: Ingredient) -> Fraction | None:
    """What is neither water nor common salt, in % of a material."""
    if not material.substances:
        return None
    return sum(
        (Fraction(p) for n, p in material.substances.items() if not is_water(n) and inci_key(n) != "sodium chloride"),
        Fraction(0),
    )
