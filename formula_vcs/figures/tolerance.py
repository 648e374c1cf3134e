"""How near a weighing or a step has to come to what was asked for, and how it misses it.

Everything that asks for the tolerance of a charge asks here: the weigh sheet, the check of a record, the worst weighing
of a legal limit, and the trace of two batches.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.model.facts import readable
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import SHEAR_MODES, Charge
from formula_vcs.model.workspace import Workspace

# --- How far a weighed mass may lie from its target, and when it lies so far off that its unit was mistaken


PRACTICE: Final = "common practice"
# By what a material does: what a little of does much is weighed closer.  Common practice, no source.
_BY_FUNCTION: Final = {
    **dict.fromkeys(("preservative", "oral care active", "active", "uv filter"), Fraction(1, 200)),
    **dict.fromkeys(("fragrance", "flavour", "colour", "colourant", "perfume"), Fraction(1, 50)),
}
_OTHERS: Final = Fraction(1, 100)
# No scale and no hand is off by so much: between these a value was written in g for kg, mg for g, mPa*s for Pa*s.
_MISTAKEN: Final = (Fraction(500), Fraction(2000))
_THOUSAND: Final = 1000
_ROUND: Final = Fraction(1, 5)  # this near to 1,000 it is called "about 1,000"


class Tolerance(NamedTuple):
    """A tolerance as a share of the target, and who says so."""

    share: Fraction
    why: str

    @property
    def stated(self) -> bool:
        """Say whether a file states it; else it is common practice."""
        return self.why != PRACTICE

    def of(self, target: Fraction, division: Fraction | None) -> Fraction:
        """What a mass in kg may be off: never less than one division, as no balance shows less."""
        return max(self.share * target, division or Fraction(0))


def tolerance_of(charge: Charge | None, ingredient: Ingredient | None, workspace: Workspace | None) -> Tolerance:
    """The tolerance of a charge: its own, else workspace.toml's by ingredient, function, for all, else practice.

    Without a charge, an ingredient or a workspace (their version is lost) what is left of them decides.
    """
    own = None if charge is None else charge.more.get("tolerance")
    if isinstance(own, Quantity):
        return Tolerance(own.base, "the recipe")
    functions = () if ingredient is None else ingredient.functions
    known = [_BY_FUNCTION[name.casefold()] for name in functions if name.casefold() in _BY_FUNCTION]
    practice = Tolerance(min(known, default=_OTHERS), PRACTICE)
    return practice if workspace is None else _of_workspace(ingredient, workspace) or practice


def _of_workspace(ingredient: Ingredient | None, workspace: Workspace) -> Tolerance | None:
    functions = () if ingredient is None else ingredient.functions
    names = (*((ingredient.id,) if ingredient is not None else ()), *functions)
    for name in names:
        found = workspace.get("tolerance", name, kind=Quantity)
        if isinstance(found, Quantity):
            return Tolerance(found.base, f"workspace.toml, {name}")
    common = workspace.get("tolerance", kind=Quantity) or workspace.get("tolerance", "default", kind=Quantity)
    if isinstance(common, Quantity):
        return Tolerance(common.base, "workspace.toml")
    return None


def mistaken_unit(value: Fraction | None, expected: Fraction | None) -> bool:
    """Say whether a value is about a thousand times what is expected, or a thousandth: a unit was mistaken."""
    if not value or not expected or (value > 0) != (expected > 0):
        return False
    ratio = abs(value / expected)
    return _MISTAKEN[0] <= max(ratio, 1 / ratio) <= _MISTAKEN[1]


def mistaken_words(value: Fraction, target: Fraction) -> str:
    """Say by how much a mass misses its target where its unit was mistaken; empty where it was not."""
    if not mistaken_unit(value, target):
        return ""
    ratio = max(value / target, target / value)
    near = abs(ratio / _THOUSAND - 1) <= _ROUND
    times = "about 1,000" if near else f"{round(ratio):,}"
    size = f"{times} times" if value > target else "about a thousandth of" if near else f"1/{round(ratio)} of"
    return f"{size} its target; was it written in the wrong unit (g and kg, mg and g)?"


# --- How what was done in a step misses what was asked for: asked by the check of a record and by its weigh sheet


def off_target(name: str, found: Range | str, wanted: Range | str) -> str:
    """Say how what was done misses what was asked for; empty where it does not.

    ``name`` is that of a step's value: speed, time, temp, rest, measured ...  A set point that is one value has some
    room around it: common practice, no source.
    """
    if isinstance(wanted, str) or isinstance(found, str):
        if found == wanted:
            return ""
        word = ""
        if isinstance(found, str) and isinstance(wanted, str) and {found, wanted} <= set(SHEAR_MODES):
            word = " (more shear)" if SHEAR_MODES.index(found) > SHEAR_MODES.index(wanted) else " (less shear)"
        return f"{found} in place of {wanted}{word}"
    if found.dimension != wanted.dimension:
        return f"{found} is no {wanted.dimension}, which '{wanted}' is"
    low, high = _ends(name, wanted)
    least = readable(found.low or found.high, Quantity)
    most = readable(found.high or found.low, Quantity)
    if high is not None and most is not None and most.base > high:
        return f"{found} is over {wanted}"
    if low is not None and least is not None and least.base < low:
        return f"{found} is under {wanted}"
    return ""


_ROOM: Final = {"time": Fraction(1, 10), "rest": Fraction(0)}
_OTHER_VALUES: Final = Fraction(1, 20)
_KELVIN: Final = Fraction(2)


def _ends(name: str, wanted: Range) -> tuple[Fraction | None, Fraction | None]:
    """What a set point allows: a range itself, one value with some room around it."""
    low = None if wanted.low is None else wanted.low.base
    high = None if wanted.high is None else wanted.high.base
    if not wanted.single or low is None or high is None:
        return low, high
    room = _KELVIN if wanted.dimension == "temperature" else low * _ROOM.get(name, _OTHER_VALUES)
    return low - room, None if name == "rest" else high + room
