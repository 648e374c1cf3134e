"""Water activity of the water phase: polyols and sugars by Norrish, salt by Pitzer, each times the other (Ross).

Norrish, J. Food Technol. 1 (1966) 25; Ross, Food Technol. 29(3) (1975) 26; Pitzer, Mayorga, J. Phys. Chem. 77 (1973)
2300.  Best above 0.85; polyols and sugars are usable down to about 0.5 with a larger error, Ross's product above 0.75
to within 0.02.  Oils, powders and what is not dissolved do not count; gums below 2 % are negligible; ethanol is
volatile and is not covered.  Nor is any other salt that could move it by more than its third decimal: Norrish and Ross
do not hold for them, and no constants of theirs are here.  An estimate: the number that a release rests on is measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from math import exp, sqrt
from typing import Any, Final

from formula_vcs.chemistry.substances import salt_of
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms, unsettled_water
from formula_vcs.model.ingredient import inci_key
from formula_vcs.toml.package_data import load
from formula_vcs.words.late_pattern import late_pattern

WATER_MASS: Final = 18.015
SALT: Final = "sodium chloride"
SALT_MASS: Final = 58.443
# Pitzer, Mayorga 1973, NaCl at 25 degC, to 6 mol/kg (from memory; gives 0.760 at 6 mol/kg as Robinson and Stokes)
_B0, _B1, _C, _A, _B, _ALPHA, _MOST_SALT = 0.0765, 0.2664, 0.00127, 0.3915, 1.2, 2.0, 6.0
BEST: Final = 0.85
LEAST: Final = 0.5
# A salt that is not listed is passed over where the ideal law (each ion a particle) says that all of them together
# lower the water activity by less than this: a quarter of what Ross's product is good to.
_PASSED: Final = 0.005
_IONS: Final = {1: 2, 3: 3, 4: 2, 6: 4, 10: 5, 15: 5}  # ions of a salt, by the ionic strength that a mol of it brings
# By its name: a small cation and a small anion.  The lightest of those that are not in the table, ammonium chloride,
# has the most ions for its mass (standard atomic weights), and stands for all of them.
_MOST_IONS: Final = 2 / 53.49
_SALT_NAME: Final = late_pattern(
    r"(?:(?:di|tri|tetra|penta|mono)?(?:sodium|potassium|ammonium|lithium)|magnesium|calcium|zinc|strontium|"
    r"alumini?um|ferrous|ferric|copper|manganese) "
    r"(?:chloride|bromide|iodide|nitrate|nitrite|sulfate|bisulfate|sulfite|bisulfite|metabisulfite|thiosulfate|"
    r"thiocyanate|carbonate|bicarbonate|sesquicarbonate|phosphate|pyrophosphate|tripolyphosphate|"
    r"monofluorophosphate|borate|formate|acetate|diacetate|propionate|lactate|glycolate|levulinate|gluconate|"
    r"tartrate|malate|succinate|citrate|ascorbate|benzoate|sorbate|salicylate|anisate|pca|edta)"
)
# Sparingly soluble (the rules of solubility of any textbook): what is dissolved of them moves nothing.
_STAYS_SOLID: Final = late_pattern(
    r"(?:magnesium|calcium|zinc|strontium|alumini?um|ferrous|ferric|copper|manganese) "
    r"(?:carbonate|phosphate|pyrophosphate|borate|citrate)|(?:calcium|strontium) (?:sulfate|tartrate)"
)
_MOST_NAMES: Final = 6
_VOLATILE: Final = frozenset({"alcohol", "alcohol denat.", "ethanol", "isopropyl alcohol"})


def norrish(solutes: dict[str, tuple[float, float]], water: float) -> float:
    """Give x_w exp(-sum K x^2) for solutes {name: (mol, K)} and mol of water."""
    whole = water + sum(amount for amount, _ in solutes.values())
    return water / whole * exp(-sum(k * (amount / whole) ** 2 for amount, k in solutes.values()))


def ross(solutes: dict[str, tuple[float, float]], water: float) -> float:
    """The product of what each solute alone would do in all the water."""
    result = 1.0
    for name, solute in solutes.items():
        result *= norrish({name: solute}, water)
    return result


def salt(molality: float) -> float:
    """The water activity over sodium chloride of a molality in mol/kg water at 25 degC, to 6 mol/kg (Pitzer)."""
    if molality <= 0:
        return 1.0
    root = sqrt(molality)
    osmotic = 1 - _A * root / (1 + _B * root) + molality * (_B0 + _B1 * exp(-_ALPHA * root)) + molality**2 * _C
    return exp(-2 * osmotic * molality * WATER_MASS / 1000)


def solutes_of(sums: Breakdown) -> dict[str, tuple[float, float]]:
    """The solutes that are known: {INCI: (mol for 100 g of product, K)}; a salt counts its ions."""
    found: dict[str, tuple[float, float]] = {}
    for name, row in load("solutes").items():
        pct = sums.substances.get(inci_key(name))
        if pct:
            found[name] = float(pct) / row["molar_mass"] * row.get("ions", 1), float(row["K"])
    return found


def water_activity(sums: Breakdown, _: Terms) -> Figure:
    """The water activity of the water phase."""
    missing = unsettled_water(sums) + [f"{name}: no composition" for name in sums.unnamed]
    wet = float(sums.substances.get("aqua", Fraction(0))) / WATER_MASS
    if not missing and wet <= 0:
        missing.append("there is no water in it")
    missing += [f"{name}: volatile, and not covered" for name in sorted(_VOLATILE & sums.substances.keys())]
    if missing:
        return Figure("water_activity", None, "", tuple(missing), estimate=True)
    found = solutes_of(sums)
    molality = float(sums.substances.get(SALT, Fraction(0))) / SALT_MASS / (wet * WATER_MASS / 1000)
    others = _other_salts(sums, found, wet)
    drop = 1 - exp(-sum(others.values()) * WATER_MASS / 1000)
    if drop >= _PASSED:
        missing = [f"{name}: a salt, and no constants of it are known here" for name in _first(others)]
        return Figure("water_activity", None, "", tuple(missing), estimate=True)
    if molality > _MOST_SALT:
        words = f"{SALT}: {molality:.1f} mol for a kg of water, beyond the 6 that the salt's constants hold to"
        return Figure("water_activity", None, "", (words,), estimate=True)
    value = norrish(found, wet) * salt(molality)
    crossed = ross(found, wet) * salt(molality)
    exact = Fraction(round(value, 4)).limit_denominator(10_000)
    basis = [*_basis(found, value, crossed, molality), *_not_counted(sums, found, others)]
    return Figure("water_activity", exact, "", (), tuple(basis), estimate=True)


def _other_salts(sums: Breakdown, listed: Iterable[str], wet: float) -> dict[str, float]:
    """Give mol of ions for a kg of water of each salt without constants, as if it were ideal and all dissolved."""
    found: dict[str, float] = {}
    for name, pct in sums.substances.items():
        if name == SALT or name in listed or _STAYS_SOLID.fullmatch(name):
            continue
        known = salt_of(name)
        if known is not None:
            ions = _IONS.get(round(known.strength), 2) / known.molar_mass
        elif _SALT_NAME.fullmatch(name):
            ions = _MOST_IONS
        else:
            continue
        found[name] = float(pct) * ions / (wet * WATER_MASS / 1000)
    return found


def _first(amounts: Mapping[str, float | Fraction]) -> list[str]:
    """Name what there is most of, as far as a line takes."""
    return sorted(amounts, key=lambda name: (-amounts[name], name))[:_MOST_NAMES]


def _not_counted(sums: Breakdown, listed: Iterable[str], salts: Mapping[str, float]) -> Iterator[str]:
    """Say by name what does not count: salts that move it too little, and what is not known to dissolve."""
    if salts:
        words = f"not counted for the water activity, which they lower by less than {_PASSED} together"
        yield f"{words}: {', '.join(_first(salts))}"
    counted = {*listed, *salts, SALT, "aqua"}
    rest = {name: pct for name, pct in sums.substances.items() if name not in counted and pct}
    if rest:
        more = f" and {len(rest) - _MOST_NAMES} more" if len(rest) > _MOST_NAMES else ""
        yield f"not counted for the water activity, as if nothing of it were dissolved: {', '.join(_first(rest))}{more}"
    yield "a release rests on a measured value"


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
    return basis
