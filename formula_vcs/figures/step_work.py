"""What a step does to its vessel's content: power, energy, turnovers, flow regime, blend time.

All of it at the highest speed and the longest time that the step states, and an estimate.  A number that a formula
needs and nobody states is named, never guessed.
"""

from __future__ import annotations

from fractions import Fraction
from math import pi
from typing import Final, NamedTuple

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.content_flow import Fluid, at_tool, constant, content_at, impeller, longest
from formula_vcs.figures.vessels import mass_of, volume_of
from formula_vcs.model.equipment import Equipment
from formula_vcs.process import mixing
from formula_vcs.process.simulate import StepState
from formula_vcs.process.step_numbers import Numbers

CLOSE: Final = 0.7  # impeller to vessel: from here on a tool sweeps the wall, and no turbine's correlation is its own


class StepWork(NamedTuple):
    """Power in W, energy in J/kg, power by volume in W/m3, Reynolds number, blend time to 95 % and time in s.

    ``volume`` (m3) and ``mass`` (kg) are those of the content.  None is "not known"; ``missing`` says why, and
    ``basis`` where a viscosity that the step does not state was taken from; ``fluid`` is the content as it was found,
    to be stirred at another size.
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
    basis: str = ""
    fluid: Fluid | None = None


def work(sums: Breakdown, stage: StepState, batch: Fraction, vessel: Equipment | None) -> StepWork:
    """Work out one step of a batch of some kg, in a piece of equipment that is its vessel, where that is known."""
    content = stage.contents.get(stage.vessel, {})
    mass = float(mass_of(sums, content, batch))
    volume = volume_of(sums, content, batch)
    room = None if volume is None else float(volume)
    time = longest(stage.step, "time")
    if mass < 0 or (room is not None and room < 0):
        # charges over 100 % make the balance negative; the total's own rule blocks that
        words = f"charges add up to more than 100 %: '{stage.vessel}' would hold less than nothing of something"
        return StepWork(mass, None, time, missing=(words,))
    found = sums.numbers(stage.step)
    missing = list(found.missing)
    if room is None:
        missing.append("a material in the vessel has no density")
    plain = StepWork(mass, room, time, missing=tuple(missing))
    if found.device is None or found.speed is None or found.device.tool is None or not mass:
        return plain
    share = mass / float(batch) if batch else 0.0
    fluid = content_at(sums, stage, mass / room if room else None, share)
    return stirred(plain._replace(fluid=fluid), found, fluid, vessel)


def stirred(plain: StepWork, found: Numbers, fluid: Fluid, vessel: Equipment | None) -> StepWork:
    """Add power, energy, turnovers and blend time of a tool that turns in a content, as far as formulas hold for it."""
    device, speed = found.device, found.speed
    assert device is not None  # noqa: S101 - asked by the caller
    assert speed is not None  # noqa: S101 - as above
    assert device.tool is not None  # noqa: S101 - as above
    size, turns = float(device.tool), speed[1]
    fluid, number = at_tool(fluid, device, turns), None
    if fluid.density is not None and fluid.viscosity:
        number = mixing.reynolds(fluid.density, turns, size, fluid.viscosity)
    np, why = _power_number(device, number, fluid)
    missing = [*plain.missing, *([why] if why else [])]
    power = energy = by_volume = rounds = blend = None
    if np is not None and fluid.density is not None:
        power = mixing.power(np, fluid.density, turns, size)
        by_volume = power / plain.volume if plain.volume else None
        energy = None if plain.time is None else mixing.specific_energy(power, plain.time, plain.mass)
        blend, why = _blend(np, (turns, number), plain, fluid, (device, vessel))
        missing += [why] if why else []
    flow = None if _sweeps(device, vessel) else device.number("flow_number")
    turbulent = fluid.thin or (number is not None and number > mixing.TURBULENT)
    if flow is not None and turbulent and plain.time is not None and plain.volume:
        rounds = mixing.turnovers(mixing.pumping(float(flow), turns, size), plain.time, plain.volume)
    regime = None if number is None else mixing.regime(number)
    return plain._replace(
        power=power, energy=energy, by_volume=by_volume, reynolds=number, regime=regime, turnovers=rounds,
        blend_time=blend, missing=tuple(missing), basis=fluid.basis,
    )  # fmt: skip


def _power_number(device: Equipment, number: float | None, fluid: Fluid) -> tuple[float | None, str]:
    """The power number of a tool in a content, or why none is known: the turbulent one holds above Re 10,000."""
    turbulent, laminar = device.number("power_number"), constant(device, "laminar_constant")
    if fluid.thin or (number is not None and number > mixing.TURBULENT):
        return (None, f"'{device.id}' has no power_number") if turbulent is None else (float(turbulent), "")
    if number is None:
        return None, fluid.unknown
    if laminar is None:
        words = f"'{device.id}' has no laminar_constant, and a power_number holds above Re {mixing.TURBULENT:,.0f}"
        return None, f"{words} (here {number:,.2g})"
    if turbulent is None and number >= mixing.LAMINAR:
        return None, f"'{device.id}' has no power_number"
    return mixing.power_number(laminar, number, float(turbulent or 0)), ""


def _sweeps(device: Equipment, vessel: Equipment | None) -> bool:
    """Say whether a tool turns close to the wall, as an anchor does: it moves the content round and hardly mixes."""
    size, width = float(device.tool or 0), None if vessel is None else vessel.diameter
    return bool(impeller(device).get("close")) or (width is not None and size >= CLOSE * float(width))


def _blend(
    np: float,
    turning: tuple[float, float | None],
    plain: StepWork,
    fluid: Fluid,
    where: tuple[Equipment, Equipment | None],
) -> tuple[float | None, str]:
    """The blend time of a turbine, or of a ribbon in laminar flow; else, where worth it, why there is none."""
    (turns, number), (device, vessel) = turning, where
    if not turns or not np or device.is_rotor_stator:
        return None, ""
    kind = impeller(device)
    if kind.get("ribbon") and number is not None and number < mixing.LAMINAR:
        laminar = constant(device, "laminar_constant")
        return (None, "") if laminar is None else (mixing.ribbon_blend_time(laminar, turns), "")
    if vessel is None or vessel.diameter is None or not plain.volume or not fluid.density:
        return None, ""
    width, size = float(vessel.diameter), float(device.tool or 0)
    if _sweeps(device, vessel):
        return None, f"no blend time: the correlation is one of turbines, and '{device.id}' sweeps the wall"
    height = plain.volume / (pi * width**2 / 4)
    return mixing.blend_time(np, turns, size, width, height, fluid.density, fluid.viscosity or None), ""
