"""A step asks of its equipment what it can do."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.model.equipment import Equipment
from formula_vcs.model.finding import Finding
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import Step
from formula_vcs.process.mixing import tip_speed
from formula_vcs.rules.rule import Case, Rule

_STATED = "stated by the equipment's file"
_ROOM: Final = (Fraction("288.15"), Fraction("303.15"))


class EquipmentRange(Rule):
    """A step's speed lies in its mixer's range, and its temperature in reach of the vessel's jacket.

    Why: a sheet that asks for 4000 rpm of a mixer that turns at 3600 is decided on the floor, differently by each
    shift.  Outside the range altogether is a block; a range that reaches out of it a warning, and a temperature that
    may come with what the step joins.  Room temperature (15 to 30 degC) needs no jacket.
    """

    id = "equipment-range"
    source = _STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare speed and temperature with what the equipment states."""
        for step in case.recipe.steps:
            device = None if step.mixer is None else case.formula.equipment.get(step.mixer)
            if device is None:
                continue
            speed = step.span("speed")
            if speed is not None and device.speed is not None:
                yield from self._compared(
                    case, step, device, "speed", (_turning(speed, device), _turning(device.speed, device))
                )
            temp = step.span("temp")
            if temp is not None and device.jacket is not None:
                yield from self._compared(case, step, device, "temp", (_span(temp), _with_room(_span(device.jacket))))

    def _compared(
        self, case: Case, step: Step, device: Equipment, name: str, spans: tuple[_Span | None, _Span | None]
    ) -> Iterator[Finding]:
        asked, can = spans
        if asked is None or can is None or _within(asked, can):
            return
        apart = (asked[0] is not None and can[1] is not None and asked[0] > can[1]) or (
            asked[1] is not None and can[0] is not None and asked[1] < can[0]
        )
        what = "turns at" if name == "speed" else "has a jacket of"
        stated = device.speed if name == "speed" else device.jacket
        words = f"step '{step.id}' asks for {step.span(name)} of '{device.id}', which {what} {stated}"
        at = (*step.path, name)
        brought = name == "temp" and bool(step.joins)
        yield self.say(
            case,
            words,
            at,
            subject=f"{step.id}/{name}/{device.id}",
            severity="block" if apart and not brought else "warn",
            on_value=True,
        )


_Span = tuple[Fraction | None, Fraction | None]


def _span(span: Range) -> _Span:
    return None if span.low is None else span.low.base, None if span.high is None else span.high.base


def _with_room(jacket: _Span) -> _Span:
    """Give what a vessel reaches with its jacket, and without it by standing in the room."""
    low, high = jacket
    return None if low is None else min(low, _ROOM[0]), None if high is None else max(high, _ROOM[1])


def _turning(span: Range, device: Equipment) -> _Span | None:
    """Give turns a second; a tip speed is turned into them by the diameter, and is None without one."""
    if span.dimension != "velocity":
        return _span(span)
    if device.tool is None:
        return None
    around = Fraction(tip_speed(float(device.tool), 1.0))
    low, high = _span(span)
    return None if low is None else low / around, None if high is None else high / around


def _within(asked: _Span, can: _Span) -> bool:
    low = can[0] is None or (asked[0] is not None and asked[0] >= can[0])
    high = can[1] is None or (asked[1] is not None and asked[1] <= can[1])
    # one-sided wishes ("at least 500 rpm") are met where the range meets them
    return (low or asked[0] is None) and (high or asked[1] is None)
