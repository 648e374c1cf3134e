"""Water activity of the water phase: polyols and sugars by Norrish, salt by Pitzer, each times the other (Ross).

Norrish, J. Food Technol. 1 (1966) 25; Ross, Food Technol. 29(3) (1975) 26; Pitzer, Mayorga, J. Phys. Chem. 77 (1973)
2300.  Best above 0.85; polyols and sugars are usable down to about 0.5 with a larger error, Ross's product above 0.75
to within 0.02.  Oils, powders and what is not dissolved do not count; gums below 2 % are negligible; ethanol is
volatile and is not covered.  An estimate: the number that a release rests on is measured.
"""

from __future__ import annotations

from fractions import Fraction
from math import exp, sqrt
from typing import Any, Final

from formula_vcs.figures.breakdown import Sums
from formula_vcs.figures.figure import Figure, Terms, unsettled
from formula_vcs.model.ingredient import inci_key
from formula_vcs.toml.package_data import load

WATER_MASS: Final = 18.015
SALT: Final = "sodium chloride"
SALT_MASS: Final = 58.443
# Pitzer, Mayorga 1973, NaCl at 25 degC, to 6 mol/kg (from memory; gives 0.760 at 6 mol/kg as Robinson and Stokes)
_B0, _B1, _C, _A, _B, _ALPHA, _MOST_SALT = 0.0765, 0.2664, 0.00127, 0.3915, 1.2, 2.0, 6.0
BEST: Final = 0.85
LEAST: Final = 0.5
_VOLATILE: Final = frozenset({"alcohol", "alcohol denat.", "ethanol", "isopropyl alcohol"})


def norrish(solutes: dict[str, tuple[float, float]], water: float) -> float:
    """Give x_w exp(-sum K x^2) for solutes {name: (mol, K)} and mol of water."""
    whole = water + sum(amount for amount, _ in solutes.values())
    return water / whole * exp(-sum(k * (amount / whole) ** 2 for amount, k in solutes.values()))


def ross(solutes: dict[str, tuple[float, float]], water: float) -> float:
    """Give the product of what each solute alone would do in all the water."""
    result = 1.0
    for name, solute in solutes.items():
        result *= norrish({name: solute}, water)
    return result


def salt(molality: float) -> float:
    """Give the water activity over sodium chloride of a molality in mol/kg water at 25 degC, to 6 mol/kg (Pitzer)."""
    if molality <= 0:
        return 1.0
    root = sqrt(molality)
    osmotic = 1 - _A * root / (1 + _B * root) + molality * (_B0 + _B1 * exp(-_ALPHA * root)) + molality**2 * _C
    return exp(-2 * osmotic * molality * WATER_MASS / 1000)


def solutes_of(sums: Sums) -> dict[str, tuple[float, float]]:
    """Give the solutes that are known: {INCI: (mol for 100 g of product, K)}; a salt counts its ions."""
    found: dict[str, tuple[float, float]] = {}
    for name, row in load("solutes").items():
        pct = sums.substances.get(inci_key(name))
        if pct:
            found[name] = float(pct) / row["molar_mass"] * row.get("ions", 1), float(row["K"])
    return found


def water_activity(sums: Sums, _: Terms) -> Figure:
    """Give the water activity of the water phase."""
    missing = unsettled(sums) + [f"{name}: no composition" for name in sums.unnamed]
    wet = float(sums.substances.get("aqua", Fraction(0))) / WATER_MASS
    if not missing and wet <= 0:
        missing.append("there is no water in it")
    missing += [f"{name}: volatile, and not covered" for name in sorted(_VOLATILE & sums.substances.keys())]
    if missing:
        return Figure("water_activity", None, "", tuple(missing), estimate=True)
    found = solutes_of(sums)
    molality = float(sums.substances.get(SALT, Fraction(0))) / SALT_MASS / (wet * WATER_MASS / 1000)
    if molality > _MOST_SALT:
        words = f"{SALT}: {molality:.1f} mol for a kg of water, beyond the 6 that the salt's constants hold to"
        return Figure("water_activity", None, "", (words,), estimate=True)
    value = norrish(found, wet) * salt(molality)
    crossed = ross(found, wet) * salt(molality)
    exact = Fraction(round(value, 4)).limit_denominator(10_000)
    return Figure("water_activity", exact, "", (), tuple(_basis(found, value, crossed, molality)), estimate=True)


def _basis(found: dict[str, tuple[float, float]], value: float, crossed: float, molality: float) -> list[str]:
    rows: dict[str, Any] = load("solutes")
    counted = [*found, *([SALT] if molality else [])]
    basis = [f"estimate by Norrish over {', '.join(counted) or 'plain water'}; Ross's product gives {crossed:.3f}"]
    if value < LEAST:
        basis.append(f"below {LEAST}: outside the range that the method is used in")
    elif value < BEST:
        basis.append(f"below {BEST}: usable for polyols and sugars, with a larger error")
    basis += [f"{name}: sources differ, uncertain by 0.02" for name in found if rows[name].get("uncertain")]
    memory = [name for name in found if rows[name]["verified"] != "seen" and rows[name]["K"]]
    basis += [f"constants from memory: {', '.join(memory)}"] if memory else []
    basis.append("what is not listed is not counted; a release rests on a measured value")
    return basis
