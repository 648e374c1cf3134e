"""Masses as a weigh sheet prints them: one unit a balance, the window that is allowed, and what each step takes.

A balance shows one unit, so that all lines of one balance are in one: kg where any of them is 1 kg or more, else g.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.batches.plan import portions
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.weighing import mass_text
from formula_vcs.model.batch import Batch, BatchCharge, Portion
from formula_vcs.model.formula import Formula
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass

_POWER: Final = {("kg", "g"): 3, ("g", "kg"): -3}
_SCALE: Final = {"kg": 1, "g": 1000}


def units(charges: Sequence[BatchCharge]) -> dict[str, str]:
    """Give the unit of each balance, by its id; "" is what names none."""
    most: dict[str, Fraction] = {}
    for charge in charges:
        for portion in portions_of(charge):
            if portion.target is not None:
                name = portion.balance or charge.balance or ""
                most[name] = max(most.get(name, Fraction(0)), portion.target.base)
    return {name: "kg" if mass >= 1 else "g" for name, mass in most.items()}


def portions_of(charge: BatchCharge) -> tuple[Portion, ...]:
    """Give what is weighed of a charge at once: the rows of ``lots``, else the charge as one."""
    return charge.portions or (Portion(None, None, charge.target, None, charge.path),)


def in_unit(mass: Quantity, unit: str) -> str:
    """Write a mass in another unit with the digits that it has: 1.2500 kg is 1250.0 g.  Only kg and g are turned."""
    power = _POWER.get((mass.unit, unit))
    return str(mass) if power is None else f"{mass.value.scaleb(power):f} {unit}"


def window(text: str, target: Fraction, off: Fraction) -> str:
    """Write the masses that are allowed around a target, whose ``text`` gives unit and digits: "1.2375 to 1.2625 kg".

    The ends are rounded inwards, so that no mass of the window is outside the tolerance.  Empty for other units.
    """
    number, _, unit = text.rpartition(" ")
    if unit not in _SCALE or not off:
        return ""
    exponent = Decimal(number).as_tuple().exponent
    step = Fraction(10) ** (exponent if isinstance(exponent, int) else 0)
    scale = _SCALE[unit]
    while step > off * scale:
        step /= 10
    low = _whole((target - off) * scale, step, ROUND_CEILING)
    high = _whole((target + off) * scale, step, ROUND_FLOOR)
    return f"{low} to {high} {unit}"


def _whole(value: Fraction, step: Fraction, way: str) -> str:
    count = -((-value) // step) if way == ROUND_CEILING else value // step
    places = max(0, len(str(step.denominator)) - 1)
    return f"{Decimal(int(count * step * 10**places)).scaleb(-places):f}"


@dataclass(frozen=True, slots=True)
class StepCharge:
    """What a step takes of one charge: its key and title, and the mass as printed.

    ``share`` stands where it is not all of it; ``most`` is the most that may go in of what is kept for adjusting.
    """

    key: str
    title: str
    mass: str
    share: str = ""
    most: str = ""


def step_charges(batch: Batch, formula: Formula) -> dict[str, tuple[StepCharge, ...]]:
    """Give what each step of the recipe takes, by its id: every charge by name, whatever word the file has for it.

    What only waits for ``adjust`` is not among it.
    """
    by_key = {charge.key: charge for charge in batch.charges}
    unit = units(batch.charges)
    found: dict[str, list[StepCharge]] = {}
    kept = {(step.id, key) for step in formula.recipe.steps for key in step.adjust}
    for key, added in portions(breakdown_of(formula)).items():
        for step, share in added:
            if (step, key) not in kept:
                taken = _taken(by_key.get(key), share, step, unit)
                found.setdefault(step, []).append(StepCharge(key, formula.title(key.partition("/")[2]), *taken))
    place = {charge.key: number for number, charge in enumerate(formula.recipe.charges)}
    return {step: tuple(sorted(taken, key=lambda one: place[one.key])) for step, taken in found.items()}


def _taken(charge: BatchCharge | None, share: Fraction, step: str, unit: Mapping[str, str]) -> tuple[str, str]:
    """Give the mass that a step takes of a charge, and the share where it is not all."""
    part = "" if share == 1 else f"{float(share * 100):g} %"
    if charge is None:
        return "", part
    mine = [one for one in charge.portions if one.step == step and one.target is not None]
    rows = mine or [one for one in portions_of(charge) if one.target is not None]
    if rows and (mine or share == 1):
        return _sum(rows, charge, unit), part
    return "" if charge.target is None else mass_text(charge.target.base * share), part


def _sum(rows: Sequence[Portion], charge: BatchCharge, unit: Mapping[str, str]) -> str:
    """Write what several weighings add up to; of one balance in its unit, with its digits."""
    texts = [in_unit(row.target, unit.get(row.balance or charge.balance or "", "")) for row in rows if row.target]
    parts = [text.rpartition(" ") for text in texts]
    if len({name for _, _, name in parts}) == 1:
        return f"{sum((Decimal(number) for number, _, _ in parts), Decimal(0)):f} {parts[0][2]}"
    return mass_text(sum((row.target.base for row in rows if row.target is not None), Fraction(0)))


def without_a_step(batch: Batch, taken: Mapping[str, Sequence[StepCharge]], formula: Formula) -> Iterator[str]:
    """Name the charges that are weighed and that no step takes or keeps for adjusting."""
    used = {one.key for charges in taken.values() for one in charges}
    used |= {key for step in formula.recipe.steps for key in step.adjust}
    yield from (charge.key for charge in batch.charges if charge.key not in used)
