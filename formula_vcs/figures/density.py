"""The density of the product as it follows from its materials, by ideal additivity of volumes.

rho = 1 / sum(w_i / rho_i).  Good to about 1 % for creams and pastes without air; water with glycerol or ethanol
contracts by 1 to 4 % (ethanol-water tables), so it is an estimate and is always called one.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from formula_vcs.figures.breakdown import ONE, Breakdown
from formula_vcs.figures.figure import Figure, Terms, mean, unsettled
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.words.numbers import dot

_IDEAL = "estimate: ideal volume additivity"
_PER_ML = 1000  # kg/m3 in one g/mL


def density(sums: Breakdown, _: Terms | None = None) -> Figure:
    """Give the estimated density in g/mL; a premix that states its own density is not seen through."""
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
    """Give the density that a filled volume is weighed by: measured, else the spec's middle, else the estimate."""
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
