"""Where a material goes: in which charges, through which premixes, and how much of the product it is."""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED, ChargeShare
from formula_vcs.model.values import dataclass

MOST: Final = 50  # ways through premixes that are listed; a hostile workspace can have more than there are atoms


@dataclass(frozen=True, slots=True)
class Link:
    """One charge on the way in: its ingredient, phase, and % of the recipe or premix that it stands in."""

    ingredient: str
    phase: str
    pct: Fraction


@dataclass(frozen=True, slots=True)
class UsePath:
    """One way in, the outermost charge first; ``pct`` is what comes by it in % of the product."""

    links: tuple[Link, ...]
    pct: Fraction


@dataclass(frozen=True, slots=True)
class IngredientUse:
    """How much of some materials a recipe holds, in % of it, and the ways in; ``more``: not all are listed."""

    pct: Fraction
    ways: tuple[UsePath, ...]
    more: bool


def use(sums: Breakdown, wanted: Collection[str]) -> IngredientUse | None:
    """Say where ingredients go in a recipe; None where none of them does.

    The sum counts each charge once: a wanted premix inside a wanted premix is not counted again.
    """
    holding = _holding(sums, wanted)
    if not any(line.charge.ingredient in holding for line in sums.composition.lines):
        return None
    shares = sums.spread(lambda material: material.id in wanted)
    total = sum((share for name, share in shares.items() if name in wanted), Fraction(0)) * HUNDRED
    ways: list[UsePath] = []
    stack: list[tuple[tuple[Link, ...], Fraction]] = [((), Fraction(1))]
    while stack and len(ways) <= MOST:
        links, share = stack.pop()
        name = links[-1].ingredient if links else None
        if name in wanted:
            ways.append(UsePath(links, share * HUNDRED))
            continue
        seen = {link.ingredient for link in links}
        inner = [
            ((*links, Link(line.charge.ingredient, line.charge.phase, line.pct)), share * line.pct / HUNDRED)
            for line in _lines(sums, name)
            if line.charge.ingredient in holding and line.charge.ingredient not in seen
        ]
        stack.extend(reversed(inner))
    return IngredientUse(total, tuple(ways[:MOST]), len(ways) > MOST)


def _lines(sums: Breakdown, premix: str | None) -> tuple[ChargeShare, ...]:
    if premix is None:
        return sums.composition.lines
    recipe = sums.formula.premix_of(premix)
    return () if recipe is None else sums.premix(recipe.id).lines


def _holding(sums: Breakdown, wanted: Collection[str]) -> set[str]:
    """Name the ingredients that are wanted, or premixes that hold one of them at any depth."""
    found = set(wanted)
    for name in sums.formula.order:  # inner ones first
        recipe = sums.formula.premix_of(name)
        if recipe is not None and any(inner in found for inner in recipe.uses):
            found.add(name)
    return found
