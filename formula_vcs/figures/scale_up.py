"""Moving a process to another size: which speed keeps what, and what then cannot be kept.

For vessels and tools of the same shape and the same fluid.  HIM is Paul, Atiemo-Obeng, Kresta, Handbook of Industrial
Mixing, Wiley 2004; McCabe, Smith, Harriott, Unit Operations of Chemical Engineering, ch. 9 and 15.  All of it is an
estimate that replaces no trial at the new size.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.figures.content_flow import Fluid
from formula_vcs.figures.process_run import Process, ProcessRow
from formula_vcs.figures.step_work import StepWork, stirred
from formula_vcs.model.equipment import Equipment
from formula_vcs.process import mixing
from formula_vcs.process.step_numbers import Numbers

TIP_SPEED: Final = "tip speed"
POWER: Final = "power per volume"
BLEND: Final = "blend time"
GAP: Final = "gap shear"
DEFAULT: Final = {True: GAP, False: TIP_SPEED}  # of a rotor-stator, of an open tool; common practice


def new_speed(  # noqa: PLR0917 - the rule and the four lengths that it needs
    rule: str, speed: float, old: float, new: float, old_gap: float | None = None, new_gap: float | None = None
) -> float | None:
    """The speed at the new size in turns a second; None where a gap is needed and not known.

    Tip speed: N1 D1/D2.  Power per volume, turbulent: N1 (D1/D2)^(2/3).  Blend time, turbulent: N1.
    Gap shear: N1 (D1/D2)(h2/h1).
    """
    ratio = old / new
    if rule == TIP_SPEED:
        return speed * ratio
    if rule == POWER:
        return float(speed * ratio ** (2 / 3))
    if rule == BLEND:
        return speed
    if old_gap is None or new_gap is None:
        return None
    return speed * ratio * new_gap / old_gap


def cooling_ratio(old_volume: float, new_volume: float) -> float:
    """What the time to cool by a jacket is multiplied by: the wall's area for each volume falls as 1/R.

    R = (V2/V1)^(1/3), same fluid, jacket and film (McCabe ch. 15; from memory).
    """
    return float((new_volume / old_volume) ** (1 / 3))


class ScaledStep(NamedTuple):
    """One step at the new size.  ``speeds`` are turns a second before and after, None where they cannot be said.

    ``limited`` is the nearest speed that the new equipment can turn at, where it cannot turn at the one asked for.
    """

    row: ProcessRow
    rule: str
    stated: bool
    device: Equipment
    speeds: tuple[float | None, float | None]
    limited: float | None
    before: tuple[Numbers, StepWork]
    after: tuple[Numbers, StepWork] | None
    missing: str = ""

    @property
    def kept_power(self) -> float | None:
        """What the energy in each kg is multiplied by where tool and speed stay: the power does, known or not."""
        if self.rule or self.after is None or self.before[1].time is None:
            return None
        old, new = self.before[1].mass, self.after[1].mass
        return old / new if old > 0 and new > 0 and old != new else None


class Filling(NamedTuple):
    """What a vessel holds at the new size after a step, in m3."""

    step: str
    vessel: str
    machine: Equipment
    volume: float


class Scaled(NamedTuple):
    """A process at two sizes (kg), on a piece of equipment.  ``cooling`` multiplies the time of cooling by a jacket.

    ``kept`` are the steps that stay on their equipment, at their speed: the larger content alone moves their numbers.
    """

    before: Process
    size: Fraction
    equipment: Equipment
    moved: tuple[ScaledStep, ...]
    kept: tuple[ScaledStep, ...]
    fillings: tuple[Filling, ...]
    cooling: float | None


def scale(found: Process, size: Fraction, machine: Equipment) -> Scaled:
    """Move every step that a piece of equipment of this kind does to this piece, at another batch size in kg."""
    rows = [row for row in found.rows if row.numbers.device is not None and row.numbers.speed is not None]
    taken = [row for row in rows if _replaces(machine, row, found)]
    factor = float(size / found.batch)
    moved = tuple(_moved(row, machine, factor, found) for row in taken)
    kept = tuple(_stays(row, machine, factor, found) for row in rows if row not in taken)
    jacket = None if machine.volume is None else cooling_ratio(1.0, factor)
    return Scaled(found, size, machine, moved, kept, tuple(_fillings(found, machine, factor)), jacket)


def _fillings(found: Process, machine: Equipment, factor: float) -> Iterator[Filling]:
    """What every vessel of known equipment holds at the new size, step by step."""
    main = _main(found)
    for row in found.rows:
        vessel = row.stage.vessel
        holder = machine if machine.volume is not None and vessel == main else found.machines.get(vessel)
        if holder is not None and row.work.volume is not None:
            yield Filling(row.stage.step.id, vessel, holder, row.work.volume * factor)


def _main(found: Process) -> str:
    """Name the vessel that the process ends in."""
    return found.rows[-1].stage.vessel if found.rows else ""


def _replaces(machine: Equipment, row: ProcessRow, found: Process) -> bool:
    """Say whether a step is done by what the new equipment takes the place of: the last vessel, or its like."""
    device = row.numbers.device
    assert device is not None  # noqa: S101 - asked by the caller
    if row.stage.vessel != _main(found):
        return False
    if machine.volume is not None:
        return device.volume is not None
    return device.volume is None and device.is_rotor_stator == machine.is_rotor_stator


def _moved(row: ProcessRow, machine: Equipment, factor: float, found: Process) -> ScaledStep:
    device = row.numbers.device
    assert device is not None  # noqa: S101 - only such rows are taken
    assert row.numbers.speed is not None  # noqa: S101 - as above
    stated = row.stage.step.scale
    rule = stated or DEFAULT[device.is_rotor_stator and device.gap is not None]
    old = row.numbers.speed[1]
    before = row.numbers, row.work
    if device.tool is None or machine.tool is None:
        lacking = device if device.tool is None else machine
        words = f"'{lacking.id}' has no rotor or impeller diameter"
        return ScaledStep(row, rule, stated is not None, machine, (old, None), None, before, None, words)
    gaps = (None if one.gap is None else float(one.gap) for one in (device, machine))
    new = new_speed(rule, old, float(device.tool), float(machine.tool), *gaps)
    if new is None:
        words = "gap shear wants the gaps of both machines"
        return ScaledStep(row, rule, stated is not None, machine, (old, None), None, before, None, words)
    limit = limited(machine, new)
    after = _at(row, machine, new if limit is None else limit, factor, found)
    return ScaledStep(row, rule, stated is not None, machine, (old, new), limit, before, after)


def _stays(row: ProcessRow, machine: Equipment, factor: float, found: Process) -> ScaledStep:
    """Work out a step that keeps its equipment and its speed, with more or less in its vessel."""
    device = row.numbers.device
    assert device is not None  # noqa: S101 - asked by the caller
    assert row.numbers.speed is not None  # noqa: S101 - as above
    old = row.numbers.speed[1]
    holder = machine if machine.volume is not None and row.stage.vessel == _main(found) else None
    after = _at(row, device, old, factor, found, holder)
    return ScaledStep(row, "", False, device, (old, old), None, (row.numbers, row.work), after)


def limited(machine: Equipment, speed: float) -> float | None:
    """The nearest speed that a machine can turn at; None where it can turn at the one asked for, or says none."""
    span = machine.speed
    if span is None or machine.tool is None:
        return None
    around = mixing.tip_speed(float(machine.tool), 1.0) if span.dimension == "velocity" else 1.0
    low, high = (None if end is None else float(end.base) / around for end in (span.low, span.high))
    if low is not None and speed < low:
        return low
    return high if high is not None and speed > high else None


def _at(  # noqa: PLR0917 - the step, where it goes and what that multiplies
    row: ProcessRow, machine: Equipment, speed: float, factor: float, found: Process, holder: Equipment | None = None
) -> tuple[Numbers, StepWork]:
    """Work out a step on a machine at a speed; ``holder`` is the vessel that takes over, where that is another one."""
    size, pair = float(machine.tool or 0), (speed, speed)
    tip = mixing.tip_speed(size, speed)
    gap = None if machine.gap is None else mixing.gap_shear(size, speed, float(machine.gap))
    factor_ks = machine.number("metzner_otto")
    mean = None if factor_ks is None else mixing.mean_shear(float(factor_ks), speed)
    spans = (None if value is None else (value, value) for value in (gap, mean))
    gap_span, mean_span = spans
    shown = Numbers(machine, pair, (tip, tip), gap_span, mean_span, row.numbers.classes, ())
    volume = None if row.work.volume is None else row.work.volume * factor
    plain = StepWork(row.work.mass * factor, volume, row.work.time)
    density = plain.mass / volume if volume else None
    vessel = holder or (machine if machine.volume is not None else found.machines.get(row.stage.vessel))
    fluid = row.work.fluid or Fluid(density, unknown="what is stirred is not known")
    return shown, stirred(plain, shown, fluid._replace(density=density), vessel)
