"""The density of the product as it follows from its materials, by ideal additivity of volumes.

rho = 1 / sum(w_i / rho_i).  Good to about 1 % for creams and pastes without air; water with glycerol or ethanol
contracts by 1 to 4 % (ethanol-water tables), so it is an estimate and is always called one.
"""

from __future__ import annotations

from fractions import Fraction

from formula_vcs.figures.breakdown import ONE, Sums
from formula_vcs.figures.figure import Figure, Terms, mean, unsettled
from formula_vcs.model.quantity import Range
from formula_vcs.words.numbers import dot

_IDEAL = "estimate: ideal volume additivity"
_PER_ML = 1000  # kg/m3 in one g/mL


def density(sums: Sums, _: Terms) -> Figure:
    """Give the estimated density in g/mL; a premix that states its own density is not seen through."""
    return sums.once("density", lambda: _density(sums))


def _density(sums: Sums) -> Figure:

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


def for_packs(sums: Sums, estimate: Figure) -> Figure:
    """Give the density that a filled volume is weighed by: the spec's middle, else the estimate; it says which."""
    specified = sums.formula.recipe.spec.get("density")
    value = _middle(specified)
    if value is None:
        return estimate
    return Figure("density", value / _PER_ML, "g/mL", basis=(f"density from the spec, middle of {specified}",))


def _middle(specified: Range | None) -> Fraction | None:
    if specified is None or specified.low is None or specified.high is None:
        return None
    return (specified.low.base + specified.high.base) / 2
