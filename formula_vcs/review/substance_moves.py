"""Substances that somebody cares about, before and after, in % w/w of the product: through premixes and blends."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.figures.substance_parts import Parts, parts_of
from formula_vcs.law.compliance import compliance_of
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass

# Why a substance is worth a line, in the order in which the table has them.
REGULATED: Final = "regulated"
CLAIMED: Final = "claimed"
_ACTING: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "preserving": (("preservative",), ("preservative", "antimicrobial")),
    "UV-filtering": (("UV filter",), ("uv filter",)),
    "active": (("retinoid", "ascorbate", "self-tanner", "soluble fluoride"), ()),
    "chelating": (("chelator",), ("chelator", "chelating agent", "sequestrant")),
}
KINDS: Final = (REGULATED, *_ACTING, CLAIMED)
_LIMITS: Final = frozenset({"prohibited", "limit", "sum", "window"})
_SHORTEST: Final = 4  # letters of a name from which on a claim can be meant by it


@dataclass(frozen=True, slots=True)
class SubstanceMove:
    """One substance whose share of the product moved, in % w/w on both sides (0 where it is not there).

    ``kinds`` are of `KINDS`; ``name`` and ``cas`` are as the materials write them.
    """

    key: str
    name: str
    cas: str
    kinds: tuple[str, ...]
    before: Fraction
    after: Fraction

    @property
    def difference(self) -> Fraction:
        """Give after less before, in % of the product."""
        return self.after - self.before


def substance_moves(past: Formula, present: Formula) -> tuple[SubstanceMove, ...]:
    """Give what moved of the substances that a law limits, or that preserve, act, filter, chelate or are claimed.

    Nothing where an amount of either side is still open: what is not known did not move.
    """
    sides = breakdown_of(past), breakdown_of(present)
    if any(sums.composition.is_open or not sums.formula.recipe.charges for sums in sides):
        return ()
    old, new = (sums.substances for sums in sides)
    nothing = Fraction(0)
    moved = {
        key for key in {*old, *new} if key != "aqua" and old.get(key, nothing) != new.get(key, nothing)
    }  # fmt: skip
    if not moved:
        return ()
    kinds: dict[str, set[str]] = {}
    for sums in sides:
        for key, kind in _kinds(sums):
            if key in moved:
                kinds.setdefault(key, set()).add(kind)
    found = [
        SubstanceMove(
            key, *(sides[1].names.get(key) or sides[0].names[key]), tuple(kind for kind in KINDS if kind in own),
            old.get(key, nothing), new.get(key, nothing),
        )
        for key, own in kinds.items()
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda move: (KINDS.index(move.kinds[0]), -abs(move.difference), move.key)))


def _kinds(sums: Breakdown) -> Iterator[tuple[str, str]]:
    """Give the substances of a product that are worth a line, each with why."""
    parts = parts_of(sums)
    for key in _limited(sums):
        yield key, REGULATED
    for kind, (classes, functions) in _ACTING.items():
        for part in parts.acting(classes, functions):
            yield part.grain.key, kind
    for part in parts.all:
        if any(tag.startswith("function:") and "active" in tag.partition(":")[2].split() for tag in part.grain.tags):
            yield part.grain.key, "active"
    for key in _claimed(sums, parts):
        yield key, CLAIMED


def _limited(sums: Breakdown) -> Iterator[str]:
    """Give the substances that a row of a law or of the house limits in this kind of product."""
    if sums.formula.recipe.is_premix:
        return
    for hit in compliance_of(sums).hits:
        if hit.row.kind in _LIMITS:
            yield from hit.keys


def _claimed(sums: Breakdown, parts: Parts) -> Iterator[str]:
    """Give the substances that a claim of the recipe names."""
    claims = [claim.casefold() for claim in sums.formula.recipe.claims]
    for part in parts.all if claims else ():
        key = part.grain.key
        if len(key) >= _SHORTEST and any(key in claim for claim in claims):
            yield key
