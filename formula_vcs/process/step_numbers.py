"""The numbers of one step: tip speed, shear rates, and the class of shear that they make."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from formula_vcs.model.equipment import BY_HAND, MILLS, Equipment
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import Step
from formula_vcs.process.mixing import gap_shear, mean_shear, tip_speed
from formula_vcs.toml.package_data import load

Span = tuple[float, float]
UNKNOWN: Final = "unknown"
# from the gentlest to the roughest; the modes that a step can state, and what only numbers say
CLASSES: Final = ("none", "fold", "low", "medium", "high", "very high")


class Numbers(NamedTuple):
    """What a step's speed and tool come to, each as (lowest, highest), None where it is not known.

    ``speed`` in turns a second, ``tip`` in m/s, ``gap`` and ``mean`` (Metzner-Otto) in 1/s.  ``classes`` are the
    classes at the lowest and the highest speed, "unknown" where they cannot be told; ``missing`` says why.
    """

    device: Equipment | None
    speed: Span | None
    tip: Span | None
    gap: Span | None
    mean: Span | None
    classes: tuple[str, str]
    missing: tuple[str, ...]

    @property
    def shear_class(self) -> str:
        """Give the class at the highest speed."""
        return self.classes[1]


def numbers(step: Step, device: Equipment | None) -> Numbers:
    """Work out the numbers of a step.  A speed in rpm without a diameter stays unknown: it is never guessed."""
    missing: list[str] = []
    stated = step.span("speed")
    speed, tip = _speeds(stated, device, missing)
    gap = mean = None
    if device is not None and speed is not None:
        if device.is_rotor_stator and device.gap is None:
            missing.append(f"'{device.id}' has no gap")
        elif device.is_rotor_stator and device.tool is not None and device.gap is not None:
            size, width = float(device.tool), float(device.gap)
            gap = gap_shear(size, speed[0], width), gap_shear(size, speed[1], width)
        factor = device.number("metzner_otto")
        if factor is not None:
            mean = mean_shear(float(factor), speed[0]), mean_shear(float(factor), speed[1])
    if stated is None:
        return Numbers(device, None, None, None, None, _still(step, device), tuple(missing))
    classes = tuple(_class(_kind(device), _at(tip, i), _at(gap, i), _at(mean, i)) for i in (0, 1))
    return Numbers(device, speed, tip, gap, mean, (classes[0], classes[1]), tuple(missing))


def _speeds(stated: Range | None, device: Equipment | None, missing: list[str]) -> tuple[Span | None, Span | None]:
    """Give turns a second and tip speed: from either the other follows, by the diameter."""
    ends = None if stated is None else _ends(stated)
    if stated is None or ends is None:
        return None, None
    size = None if device is None or device.tool is None else float(device.tool)
    if stated.dimension == "velocity":
        if size is None:
            return None, ends
        around = tip_speed(size, 1.0)
        return (ends[0] / around, ends[1] / around), ends
    if size is None:
        missing.append("no mixer is named" if device is None else f"'{device.id}' has no rotor or impeller diameter")
        return ends, None
    return ends, (tip_speed(size, ends[0]), tip_speed(size, ends[1]))


def _ends(span: Range) -> Span | None:
    low, high = span.low or span.high, span.high or span.low
    return None if low is None or high is None else (float(low.base), float(high.base))


def _still(step: Step, device: Equipment | None) -> tuple[str, str]:
    """Class a step without a speed: by hand, not moved at all, or not to be told."""
    if device is not None and device.kind in BY_HAND:
        return "fold", "fold"
    return ("none", "none") if device is None and (step.shear or "none") == "none" else (UNKNOWN, UNKNOWN)


def _kind(device: Equipment | None) -> str:
    if device is None:
        return "open"
    if device.kind in MILLS:
        return "mill"
    if device.kind in BY_HAND:
        return "hand"
    return "rotor-stator" if device.is_rotor_stator else "open"


def _at(span: Span | None, end: int) -> float | None:
    return None if span is None else span[end]


def _class(kind: str, tip: float | None, gap: float | None, mean: float | None) -> str:
    """Take the first class whose conditions hold; one that hangs on an unknown number is passed over."""
    known = {"tip": tip, "gap_shear": gap, "mean_shear": mean}
    if kind == "open" and tip is None:
        return UNKNOWN
    for row in load("shear-classes")["class"]:
        if row["kind"] == kind and all(_holds(known[name], row[name]) for name in known if name in row):
            return str(row["name"])
    return UNKNOWN


def _holds(value: float | None, limits: Mapping[str, Any]) -> bool:
    if value is None:
        return False
    return all(
        (name == "at_least" and value >= limit)
        or (name == "at_most" and value <= limit)
        or (name == "above" and value > limit)
        or (name == "below" and value < limit)
        for name, limit in limits.items()
    )


def said(found: Numbers) -> str:
    """Say the numbers shortly: ``tip speed 18.8 m/s, gap shear 37,700 1/s``; empty where none is known."""
    parts = []
    if found.tip is not None:
        parts.append(f"tip speed {_span(found.tip, 2)} m/s")
    if found.gap is not None:
        parts.append(f"gap shear {_span(found.gap, 0)} 1/s")
    return ", ".join(parts)


def _span(span: Span, places: int) -> str:
    low, high = (_rounded(value, places) for value in span)
    return low if low == high else f"{low} to {high}"


def _rounded(value: float, places: int) -> str:
    """Write a number with three figures that mean something."""
    if value >= 100 or not places:
        step = 10 ** max(len(str(int(value))) - 3, 0)
        return f"{round(value / step) * step:,}"
    return f"{value:.1f}" if value >= 10 else f"{value:.2f}"
