"""Which figures a reviewer has to see: those that somebody asked for in any way, and those that really moved."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from fractions import Fraction
from typing import Final

from formula_vcs.diff.effects import Effect
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import ORIGIN_INDICES

# Why a figure is listed; the empty word is that of one that is not.
PRICED: Final = "priced"
CLAIMED: Final = "claimed"
LIMITED: Final = "limited"
SPECIFIED: Final = "specified"
ASKED: Final = "asked for"
MOVES: Final = "moves beyond its uncertainty"
WHYS: Final = (PRICED, CLAIMED, LIMITED, SPECIFIED, ASKED, MOVES, "")
ALL: Final = "all"

_POINT: Final = Fraction(1)
_TENTH: Final = Fraction(1, 10)  # what an estimate for a line of the spec has to move by of its uncertainty
_DRY: Final = tuple(f"{name}_without_water" for name in ORIGIN_INDICES)
# How far a figure may be off: absolute, in its unit, and as a share of it; the larger counts. Of sums that is what the
# weighing tolerance of 1 % and indices of two digits leave (common practice); of estimates, what their method leaves.
UNCERTAINTY: Final[dict[str, tuple[Fraction, Fraction]]] = {
    **{name: (_POINT, Fraction(0)) for name in ("water", "formulation_water", *ORIGIN_INDICES, *_DRY)},
    **{name: (_POINT, Fraction(0)) for name in FIGURES if name.startswith(("cosmos_", "nop_"))},
    "density": (Fraction(0), Fraction(1, 100)),
    "density_corrected": (Fraction(0), Fraction(1, 100)),
    "water_activity": (Fraction(1, 100), Fraction(0)),
    "free_acid": (Fraction(0), Fraction(1, 20)),
    "ph_estimate": (Fraction(1, 5), Fraction(0)),
    "active_ppm": (Fraction(0), Fraction(1, 100)),
    "active_matter": (Fraction(0), Fraction(1, 100)),
    "required_hlb": (_POINT, Fraction(0)),
    "emulsifier_hlb": (_POINT, Fraction(0)),
}
_OF_SPEC: Final = {"pH": ("ph_estimate",), "density": ("density_corrected",)}
# What a scheme's claim is judged by, by how its name begins; a content claim names its own figure.
_OF_SCHEME: Final = {
    "cosmos": ("cosmos_",), "nop": ("nop_",), "nsf": ("organic", "nop_"), "fr-": ("natural",), "at-": ("organic",),
}  # fmt: skip


def why_listed(effect: Effect, past: Formula, present: Formula) -> str:
    """Say why a figure is listed (`WHYS`); empty where nobody asked for it and it moved by less than it is sure of."""
    name = effect.figure
    if name == "total" or name.startswith("cost_"):
        return PRICED if name != "total" else LIMITED
    if any(name in claimed(side) for side in (past, present)):
        return CLAIMED
    if name == "fluoride_ppm":
        return LIMITED
    if any(name in specified(side) for side in (past, present)) and _moves(effect, _TENTH):
        return SPECIFIED
    return MOVES if _moves(effect) else ""


def claimed(formula: Formula) -> frozenset[str]:
    """Name the figures that the claims of a recipe are judged by."""
    found: set[str] = set()
    for path in formula.recipe.facts:
        if path[0] == "claims" and len(path) == 2:
            found.update(_of_claim(path[1].casefold()))
    return frozenset(found)


def _of_claim(claim: str) -> list[str]:
    words = claim.split()
    name = words[0].replace("-", "_") if words else ""
    if name in ORIGIN_INDICES:
        return [f"{name}_without_water" if "without" in words else name]
    starts = next((starts for lead, starts in _OF_SCHEME.items() if claim.startswith(lead)), ())
    return [figure for figure in FIGURES if starts and figure.startswith(starts)]


def specified(formula: Formula) -> frozenset[str]:
    """Name the figures that stand for a line of the spec."""
    return frozenset(name for line in formula.recipe.spec for name in _OF_SPEC.get(line, ()))


def _moves(effect: Effect, part: Fraction = _POINT) -> bool:
    """Say whether a figure moved by more than a part of what it may be off; one that became known or unknown did."""
    difference = effect.difference
    if difference is None or effect.before.value is None:
        return True
    if effect.before.span is not None and effect.after.span is not None:
        width = max(high - low for low, high in (effect.before.span, effect.after.span)) / 2
        return abs(difference) > part * width
    absolute, relative = UNCERTAINTY.get(effect.figure, (Fraction(0), Fraction(0)))
    return abs(difference) > part * max(absolute, relative * abs(effect.before.value))


def weights(effects: Iterable[Effect], past: Formula, present: Formula) -> dict[str, str]:
    """Say of each figure that moved why it is listed, by name; empty where it is not."""
    return {effect.figure: why_listed(effect, past, present) for effect in effects}


def asked_for(found: Mapping[str, str], asked: Collection[str]) -> dict[str, str]:
    """Give the same with the figures listed that somebody asked for by name; "all" asks for all."""
    return {name: why or (ASKED if name in asked or ALL in asked else "") for name, why in found.items()}
