"""Who last moved a balance: a share that nobody writes, and that follows from all the others."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import RECIPE, Change
from formula_vcs.diff.shapley import MOST_SHARED, attribute
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.history.blame import makers
from formula_vcs.history.blame_parts import Back, Facet
from formula_vcs.history.version_of_recipe import Version
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Charge
from formula_vcs.model.values import dataclass


@dataclass(frozen=True, slots=True)
class Mover:
    """A change that moved the balance: by how many percentage points, and the version that it was made in."""

    change: Change
    points: Fraction | None
    version: Version


@dataclass(frozen=True, slots=True)
class BalanceBlame:
    """The version that last moved a balance, its share before and after in %, and the changes that did it."""

    version: Version
    old: Fraction | None
    new: Fraction
    movers: tuple[Mover, ...]


def balance_blame(tip: Version, charge: Charge) -> BalanceBlame | None:
    """Say which version last moved the share of a balance, and which changes did."""
    share = _share(tip.formula, charge.path)
    if share is None:
        return None
    version, path = tip, charge.path
    while version.status not in ("added", "cut"):
        step = _same_share(version, path, share)
        if step is None:
            break
        version, path = step
    old = _old_share(version, path)
    return BalanceBlame(version, old, share, tuple(_movers(version, path)))


def _same_share(version: Version, path: tuple[str, ...], share: Fraction) -> tuple[Version, tuple[str, ...]] | None:
    for parent, changes in zip(version.parents, version.against, strict=True):
        there = Back(changes)(Facet(RECIPE, path)).path
        if _share(parent.formula, there) == share:
            return parent, there
    return None


def _share(formula: Formula | None, path: tuple[str, ...]) -> Fraction | None:
    """Give the percentage of a charge where it is a balance."""
    if formula is None:
        return None
    charge = next((one for one in formula.recipe.charges if one.path == path and one.balance), None)
    return None if charge is None else breakdown_of(formula).composition.pct(charge.key)


def _old_share(version: Version, path: tuple[str, ...]) -> Fraction | None:
    if not version.against:
        return None
    return _share(version.before, Back(version.against[0])(Facet(RECIPE, path)).path)


def _movers(version: Version, path: tuple[str, ...]) -> Iterable[Mover]:
    """Give the changes that moved a balance, the largest share first; of a merge with the side's versions."""
    if not version.against or version.before is None:
        return
    before, real = version.before, [change for change in version.against[0] if not change.derived]
    shares = _shares(before, real, path)
    owners = makers(version, real)
    order = sorted(range(len(real)), key=lambda i: -abs(shares[i] if shares is not None else Fraction(0)))
    for i in order:
        if shares is None or shares[i]:
            points = None if shares is None else shares[i]
            yield Mover(real[i], points, owners.get(real[i].id, version))


def _shares(before: Formula, changes: list[Change], path: tuple[str, ...]) -> list[Fraction] | None:
    """Share the balance's shift among the changes; None where it cannot be told, or they are too many."""
    if len(changes) > MOST_SHARED:
        return None
    known: dict[frozenset[int], Fraction | None] = {}
    # the balance lies where it was unless its own move is among the changes made
    spots = path, Back(changes)(Facet(RECIPE, path)).path

    def worth(chosen: frozenset[int]) -> Fraction | None:
        if chosen not in known:
            made = [changes[i] for i in sorted(chosen)]
            there = apply(before, made)
            known[chosen] = next((found for spot in spots if (found := _share(there, spot)) is not None), None)
        return known[chosen]

    return attribute(len(changes), worth).values
