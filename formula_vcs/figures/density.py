"""The density of the product as it follows from its materials: by ideal additivity, and less the contraction with
water.

rho = 1 / sum(w_i / rho_i).  Good to about 1 % for creams and pastes without air; water with glycerol or ethanol
contracts by 1 to 4 % (ethanol-water tables), so it is an estimate and is always called one.

Both contract when they mix (glycerol by 1 %, ethanol by up to 3.6 %), which ideal additivity does not know.  The
contraction is that of the pair alone in all the water of the product, at 20 degC, less what bought solutions of the
pair have contracted already, since their own density says so.  Other materials are taken as before.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import pi, sin
from typing import Final, NamedTuple

from formula_vcs.figures.breakdown import ONE, Breakdown
from formula_vcs.figures.figure import Figure, Terms, mean, unsettled
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.toml.package_data import load
from formula_vcs.words.numbers import dot

# --- The density of the product as it follows from its materials, by ideal additivity of volumes


_IDEAL = "estimate: ideal volume additivity"
_PER_ML = 1000  # kg/m3 in one g/mL


def density(sums: Breakdown, _: Terms | None = None) -> Figure:
    """The estimated density in g/mL; a premix that states its own density is not seen through."""
    return sums.cached("density", lambda: _density(sums))


def _density(sums: Breakdown) -> Figure:

    def volume(name: str) -> Fraction | str:
        found = sums.formula.ingredients.get(name)
        if found is None or found.density is None or not found.density.base:
            return "no density"
        return _PER_ML / found.density.base

    shares = sums.spread(lambda material: material.density is not None)
    mixed = mean(shares, volume)
    missing = mixed.missing + unsettled(sums)
    value = None if missing or not mixed.value else dot((share, ONE) for share in shares.values()) / mixed.value
    return Figure("density", value, "g/mL", tuple(missing), (_IDEAL,), estimate=True)


class PackMass(NamedTuple):
    """The mass of one pack in kg, None where it is not known; ``density`` is what a volume was weighed by."""

    mass: Fraction | None
    density: Figure | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """Name what the mass is not known for."""
        return () if self.mass is not None or self.density is None else self.density.missing


def pack_mass(sums: Breakdown, pack: Quantity, measured: Quantity | None = None) -> PackMass:
    """Weigh a pack: a mass is its own, a volume counts by the density that `filling_density` gives."""
    if pack.dimension != "volume":
        return PackMass(pack.base)
    known = filling_density(sums, measured)
    return PackMass(None if known.value is None else pack.base * known.value * _PER_ML, known)


def filling_density(sums: Breakdown, measured: Quantity | None = None) -> Figure:
    """The density that a filled volume is weighed by: measured, else the spec's middle, else the estimate."""
    if measured is not None and measured.dimension == "density":
        return Figure("density", measured.base / _PER_ML, "g/mL", basis=("density as measured",))
    stated = sums.formula.recipe.get("density", Quantity)
    if stated is not None:
        return Figure("density", stated.base / _PER_ML, "g/mL", basis=("density as the recipe states it",))
    specified = sums.formula.recipe.spec.get("density")
    value = _middle(specified)
    if value is None:
        return density(sums)
    temp = sums.formula.recipe.spec_lines["density"].temp
    words = f"density from the spec, middle of {specified}" + ("" if temp is None else f" at {temp}")
    return Figure("density", value / _PER_ML, "g/mL", basis=(words,))


def _middle(specified: Range | None) -> Fraction | None:
    if specified is None or specified.low is None or specified.high is None:
        return None
    return (specified.low.base + specified.high.base) / 2


# --- A better estimate of the density: ideal additivity less the contraction of glycerol and of ethanol with water


NOTHING: Final = "no glycerol or ethanol to correct for"
_ETHANOL: Final = ("alcohol", "alcohol denat.", "ethanol")
_TEMPERATURE: Final = 20.0


def water_density(celsius: float) -> float:
    """The density of water in kg/m3: 1000 (1 - |(T - 3.98) / 615|^1.71)."""
    return float(1000 * (1 - abs((celsius - 3.98) / 615) ** 1.71))


def glycerol_density(celsius: float) -> float:
    """The density of glycerol in kg/m3: 1273.3 - 0.6121 T."""
    return 1273.3 - 0.6121 * celsius


def glycerol_water(share: float, celsius: float = _TEMPERATURE) -> float:
    """The density in kg/m3 of glycerol in water, share by mass 0 to 1.

    Volk, Kahler, Exp. Fluids 59 (2018) 75: ideal additivity times 1 + a sin(w^1.31 pi)^0.81; a from memory.
    """
    ideal = 1 / (share / glycerol_density(celsius) + (1 - share) / water_density(celsius))
    a = 1.78e-6 * celsius**2 - 1.82e-4 * celsius + 0.0141
    return float(ideal * (1 + a * max(sin(share**1.31 * pi), 0.0) ** 0.81))


def ethanol_water(share: float) -> float:
    """The density in kg/m3 of ethanol in water at 20 degC, share by mass 0 to 1, between the table's rows.

    What is read off between two rows is the contraction, which runs smoothly, not the density.
    """
    rows = [(w / 100, d * 1000) for w, d in load("ethanol-density")["rows"]]
    water, spirit = rows[0][1], rows[-1][1]
    contraction = [(w, d * (w / spirit + (1 - w) / water)) for w, d in rows]
    for (w0, k0), (w1, k1) in pairwise(contraction):
        if w0 <= share <= w1:
            factor = k0 + (k1 - k0) * (share - w0) / (w1 - w0)
            return float(factor / (share / spirit + (1 - share) / water))
    return float(spirit)


def _contraction(pair: str, part: float, water: float) -> float:
    """The volume in m3 that a pair loses on mixing, masses in kg."""
    whole = part + water
    if part <= 0 or water <= 0:
        return 0.0
    share = part / whole
    if pair == "glycerol":
        ideal = part / glycerol_density(_TEMPERATURE) + water / water_density(_TEMPERATURE)
        return float(ideal - whole / glycerol_water(share))
    rows = load("ethanol-density")["rows"]
    ideal = part / (rows[-1][1] * 1000) + water / (rows[0][1] * 1000)
    return float(ideal - whole / ethanol_water(share))


def density_corrected(sums: Breakdown, terms: Terms) -> Figure:
    """The density in g/mL with the contractions taken off."""
    plain = density(sums, terms)
    if plain.value is None:
        return Figure("density_corrected", None, "g/mL", plain.missing, estimate=True)
    lost = 0.0
    basis: list[str] = []
    for pair, names in (("glycerol", ("glycerin",)), ("ethanol", _ETHANOL)):
        here = _contraction(pair, _share(sums, names), _share(sums, ("aqua",)))
        already = sum(
            _inside(pair, names, sums.formula.ingredients.get(name), share) for name, share in sums.leaves.items()
        )
        if here - already > 1e-12:
            basis.append(
                f"contraction of {pair} with water: {100 * (here - already) * float(plain.value) * 1000:.2f} %"
            )
            lost += here - already
    volume = 1 / (float(plain.value) * 1000) - lost
    value = Fraction(round(1 / volume / 1000, 5)).limit_denominator(100_000) if basis else plain.value
    words = basis or [NOTHING]
    return Figure("density_corrected", value, "g/mL", (), ("estimate at 20 degC", *words), estimate=True)


def _share(sums: Breakdown, names: tuple[str, ...]) -> float:
    return float(sum((sums.substances.get(name, Fraction(0)) for name in names), Fraction(0))) / 100


def _inside(pair: str, names: tuple[str, ...], material: Ingredient | None, share: Fraction) -> float:
    """What a bought solution of the pair has contracted already."""
    if material is None:
        return 0.0
    parts = {inci_key(name): float(pct) / 100 * float(share) for name, pct in material.substances.items()}
    return _contraction(pair, sum(parts.get(name, 0.0) for name in names), parts.get("aqua", 0.0))
