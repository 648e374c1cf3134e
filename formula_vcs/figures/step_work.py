"""What a step does to its vessel's content: power, energy, turnovers, flow regime, blend time.

All of it at the highest speed and the longest time that the step states, and an estimate.  A number that a formula
needs and nobody states is named, never guessed.
"""

from __future__ import annotations

from fractions import Fraction
from math import pi
from typing import NamedTuple

from formula_vcs.figures.breakdown import Sums
from formula_vcs.figures.vessels import mass_of, volume_of
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.recipe import Step
from formula_vcs.process import mixing
from formula_vcs.process.simulate import Stage
from formula_vcs.process.step_numbers import Numbers


class Work(NamedTuple):
    """Power in W, energy in J/kg, power by volume in W/m3, Reynolds number, blend time to 95 % and time in s.

    ``volume`` (m3) and ``mass`` (kg) are those of the content.  None is "not known"; ``missing`` says why.
    """

    mass: float
    volume: float | None
    time: float | None
    power: float | None = None
    energy: float | None = None
    by_volume: float | None = None
    reynolds: float | None = None
    regime: str | None = None
    turnovers: float | None = None
    blend_time: float | None = None
    missing: tuple[str, ...] = ()


class Fluid(NamedTuple):
    """What is stirred: density in kg/m3 and viscosity in Pa s, None where not known."""

    density: float | None
    viscosity: float | None


def work(sums: Sums, stage: Stage, batch: Fraction, vessel: Equipment | None) -> Work:
    """Work out one step of a batch of some kg, in a piece of equipment that is its vessel, where that is known."""
    content = stage.contents.get(stage.vessel, {})
    mass = float(mass_of(sums, content, batch))
    volume = volume_of(sums, content, batch)
    room = None if volume is None else float(volume)
    time = longest(stage.step, "time")
    if mass < 0 or (room is not None and room < 0):
        # charges over 100 % make the balance negative; the total's own rule blocks that
        words = f"charges add up to more than 100 %: '{stage.vessel}' would hold less than nothing of something"
        return Work(mass, None, time, missing=(words,))
    found = sums.numbers(stage.step)
    missing = list(found.missing)
    if room is None:
        missing.append("a material in the vessel has no density")
    plain = Work(mass, room, time, missing=tuple(missing))
    if found.device is None or found.speed is None or found.device.tool is None or not mass:
        return plain
    fluid = Fluid(mass / room if room else None, longest(stage.step, "viscosity"))
    return stirred(plain, found, fluid, vessel)


def stirred(plain: Work, found: Numbers, fluid: Fluid, vessel: Equipment | None) -> Work:
    """Add power, energy, turnovers and blend time of a tool that turns in a content."""
    device, speed = found.device, found.speed
    assert device is not None  # noqa: S101 - asked by the caller
    assert speed is not None  # noqa: S101 - as above
    assert device.tool is not None  # noqa: S101 - as above
    size, turns = float(device.tool), speed[1]
    missing = list(plain.missing)
    constant, turbulent, flow = (device.number(n) for n in ("laminar_constant", "power_number", "flow_number"))
    number = power = energy = by_volume = rounds = blend = None
    if fluid.density is not None and fluid.viscosity:
        number = mixing.reynolds(fluid.density, turns, size, fluid.viscosity)
    if turbulent is None:
        missing.append(f"'{device.id}' has no power_number")
    elif fluid.density is not None:
        np = mixing.power_number(None if constant is None else float(constant), number, float(turbulent))
        power = mixing.power(np, fluid.density, turns, size)
        by_volume = power / plain.volume if plain.volume else None
        energy = None if plain.time is None else mixing.specific_energy(power, plain.time, plain.mass)
        blend = _blend(np, turns, size, plain, fluid, vessel if not device.is_rotor_stator else None)
    if flow is not None and plain.time is not None and plain.volume:
        rounds = mixing.turnovers(mixing.pumping(float(flow), turns, size), plain.time, plain.volume)
    regime = None if number is None else mixing.regime(number)
    return plain._replace(
        power=power, energy=energy, by_volume=by_volume, reynolds=number, regime=regime, turnovers=rounds,
        blend_time=blend, missing=tuple(missing),
    )  # fmt: skip


def _blend(  # noqa: PLR0917 - what the correlation takes
    np: float, turns: float, size: float, plain: Work, fluid: Fluid, vessel: Equipment | None
) -> float | None:
    if vessel is None or vessel.diameter is None or not plain.volume or not fluid.density or not np or not turns:
        return None
    width = float(vessel.diameter)
    height = plain.volume / (pi * width**2 / 4)
    return mixing.blend_time(np, turns, size, width, height, fluid.density, fluid.viscosity or None)


def longest(step: Step, name: str) -> float | None:
    """Give the upper end of a step's range, else its lower one, in base units."""
    span = step.span(name)
    end = None if span is None else span.high or span.low
    return None if end is None else float(end.base)
