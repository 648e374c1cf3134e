"""How what was done in a step misses what was asked for: asked by the check of a record and by its weigh sheet."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from formula_vcs.model.facts import readable
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import SHEAR_MODES


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
_OTHERS: Final = Fraction(1, 20)
_KELVIN: Final = Fraction(2)


def _ends(name: str, wanted: Range) -> tuple[Fraction | None, Fraction | None]:
    """Give what a set point allows: a range itself, one value with some room around it."""
    low = None if wanted.low is None else wanted.low.base
    high = None if wanted.high is None else wanted.high.base
    if not wanted.single or low is None or high is None:
        return low, high
    room = _KELVIN if wanted.dimension == "temperature" else low * _ROOM.get(name, _OTHERS)
    return low - room, None if name == "rest" else high + room
