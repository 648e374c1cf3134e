"""Which piece of equipment a vessel of a recipe is, and how much is in it."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.formula import Formula
from formula_vcs.process.simulate import DEFAULT_VESSEL, Content


def holders(formula: Formula) -> dict[str, Equipment]:
    """The equipment that each vessel is: a step whose mixer has a volume works in it."""
    found: dict[str, Equipment] = {}
    for step in formula.recipe.steps:
        machine = None if step.mixer is None else formula.equipment.get(step.mixer)
        if machine is not None and machine.volume is not None:
            found.setdefault(step.into or DEFAULT_VESSEL, machine)
    return found


def mass_of(sums: Breakdown, content: Content, batch: Fraction) -> Fraction:
    """The mass in kg of shares of charges, in a batch of some kg.  Exact."""
    percent = shares(sums)
    return sum((share * percent[key] for key, share in content.items()), Fraction(0)) * batch / HUNDRED


def shares(sums: Breakdown) -> dict[str, Fraction]:
    """The % w/w of each charge by its key."""
    return sums.cached("shares by charge", lambda: {line.charge.key: line.pct for line in sums.composition.lines})


def volume_of(sums: Breakdown, content: Content, batch: Fraction) -> float | None:
    """The volume in m3 by ideal additivity; None where a material states no density."""
    volumes = _volumes(sums)
    total = 0.0
    for key, share in content.items():
        volume = volumes[key]
        if volume is None:
            return None
        total += float(share) * volume
    return total * float(batch)


@lru_cache(maxsize=4)
def _volumes(sums: Breakdown) -> dict[str, float | None]:
    """The volume in m3 of each whole charge in 1 kg of product, by its key; None without a density."""
    found: dict[str, float | None] = {}
    for line in sums.composition.lines:
        density = density_of(sums, line.charge.ingredient)
        found[line.charge.key] = None if density is None else float(line.pct) / float(density) / 100
    return found


def density_of(sums: Breakdown, ingredient: str) -> Fraction | None:
    """The density of an ingredient in kg/m3: its own, else that of its premix's spec, middle of the range."""
    found = sums.formula.ingredients.get(ingredient)
    if found is None:
        return None
    if found.density is not None and found.density.base:
        return found.density.base
    premix = sums.formula.premix_of(ingredient)
    spec = premix.spec.get("density") if premix is not None else None
    if spec is None or spec.low is None or spec.high is None:
        return None
    return (spec.low.base + spec.high.base) / 2
