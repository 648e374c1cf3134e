"""What a batch is planned as: its lines on balances, its premixes, and the set points of its steps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import floor
from typing import TYPE_CHECKING, Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.scale_up import Filling, ScaledStep, scale
from formula_vcs.figures.tolerance import tolerance_of
from formula_vcs.figures.weighing import Refusal, WeighableBatch, WeighingBalance, WeighLine, mass_text, weigh
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import STEP_VALUES, Recipe, Step
from formula_vcs.model.values import dataclass, replace

if TYPE_CHECKING:
    from formula_vcs.figures.process_run import Process

_VALUES: Final = (*STEP_VALUES, "accept")


@dataclass(frozen=True, slots=True)
class Plan:
    """One recipe at one size.  ``needed`` is what of it the other plans take, in kg, None for the product itself."""

    formula: Formula
    weighing: WeighableBatch
    needed: Fraction | None = None

    @property
    def recipe(self) -> Recipe:
        """Give the recipe."""
        return self.formula.recipe


@dataclass(frozen=True, slots=True)
class StepTarget:
    """What a step is to be done with: its values as text, and where they are scaled, from what and how."""

    values: Mapping[str, str]
    remark: str = ""


def portions(sums: Breakdown) -> dict[str, list[tuple[str, Fraction]]]:
    """Give the steps that add each charge, with the share (0 to 1) that each takes; most have one."""
    found: dict[str, list[tuple[str, Fraction]]] = {}
    for stage in sums.walk.stages:
        for arrival in stage.arrivals:
            for key in () if arrival.source else arrival.keys:
                found.setdefault(key, []).append((stage.step.id, _share(stage.step, key)))
    return found


def _share(step: Step, key: str) -> Fraction:
    phase = key.partition("/")[0]
    named = [addition for addition in step.add if addition.what == key] or [
        addition for addition in step.add if addition.what == phase
    ]
    share = named[0].share if named else None
    return Fraction(1) if share is None else share.base


def lines(sums: Breakdown) -> list[WeighLine]:
    """Give what is weighed at once, in the order of the file; a charge that several steps add has a line for each."""
    steps = portions(sums)
    found: list[WeighLine] = []
    formula = sums.formula
    for line in sums.composition.lines:
        key, share = line.charge.key, line.pct / 100
        if share <= 0:
            continue
        added = steps.get(key, [])
        off = tolerance_of(line.charge, formula.ingredients.get(line.charge.ingredient), formula.workspace).share
        if len(added) > 1 and sum(part for _, part in added) == 1:
            found += [WeighLine(key, share * part, step, off, line.charge.balance) for step, part in added if part]
        else:
            found.append(WeighLine(key, share, None, off, line.charge.balance))
    return found


def plan(
    formula: Formula, size: Fraction, balances: Sequence[WeighingBalance], *, at_least: bool = False
) -> Plan | list[Refusal]:
    """Plan a recipe at a size in kg, ``at_least`` or the nearest; or say which lines cannot be weighed."""
    found = weigh(lines(Breakdown(formula)), size, balances, at_least=at_least)
    return found if isinstance(found, list) else Plan(formula, found)


def premixes(
    whole: Plan, balances: Sequence[WeighingBalance], made: frozenset[str]
) -> Iterator[Plan | tuple[str, Refusal]]:
    """Plan the premixes that a plan needs, outer ones first; those in ``made`` are taken from what is there.

    A premix that cannot be weighed at the size that is needed is made at the smallest size that can, the rest being
    kept.  One that cannot be weighed at any size is given as its id with the first refusal.
    """
    needs = _needs(whole)
    for name in reversed(whole.formula.order):
        needed = needs.get(name)
        recipe = whole.formula.premix_of(name)
        if needed is None or recipe is None or name in made:
            continue
        found = _at_least(whole.formula.of_premix(recipe), needed, balances)
        if isinstance(found, Refusal):
            yield name, found
            continue
        for inner, mass in _needs(found).items():
            needs[inner] = needs.get(inner, Fraction(0)) + mass
        yield replace(found, needed=needed)


def _needs(found: Plan) -> dict[str, Fraction]:
    """Give how much of each premix a plan takes; what is kept for adjusting, up to its at_most."""
    needs: dict[str, Fraction] = {}
    for line in found.weighing.lines:
        name = line.key.partition("/")[2]
        if found.formula.premix_of(name) is not None:
            needs[name] = needs.get(name, Fraction(0)) + line.target
    kept = {key for step in found.recipe.steps for key in step.adjust}
    for charge in found.recipe.charges:
        most = charge.more.get("at_most")
        if charge.key in kept and charge.ingredient in needs and most is not None:
            needs[charge.ingredient] = max(needs[charge.ingredient], Fraction(most) / 100 * found.weighing.size)
    return needs


_TRIES: Final = 24


def _at_least(formula: Formula, needed: Fraction, balances: Sequence[WeighingBalance]) -> Plan | Refusal:
    size = needed
    for _ in range(_TRIES):
        found = plan(formula, size, balances, at_least=True)
        if isinstance(found, list):
            wanted = [refusal.batch for refusal in found]
            batches = [batch for batch in wanted if batch is not None]
            if len(batches) < len(wanted):
                return found[wanted.index(None)]
            size = max(rounded_up(max(batches)), size * Fraction(101, 100))
        else:
            return found
    return Refusal(
        WeighLine(formula.recipe.id, Fraction(1)), size, "no size of it can be weighed on these balances", None
    )


def rounded_up(mass: Fraction) -> Fraction:
    """Round a mass up to two digits, so that a size reads as one.

    >>> rounded_up(Fraction("5.0001")), rounded_up(Fraction("0.025"))
    (Fraction(51, 10), Fraction(1, 40))
    """
    power = Fraction(1)
    while power > mass:
        power /= 10
    while power * 10 <= mass:
        power *= 10
    return -(floor(-mass / (power / 10))) * (power / 10)


def set_points(formula: Formula, size: Fraction, machines: Sequence[Equipment]) -> dict[str, StepTarget]:
    """Give the set points of every step at a size in kg, on what takes over from the recipe's equipment."""
    found = {step.id: StepTarget(_stated(step)) for step in formula.recipe.steps}
    if not machines or not formula.recipe.steps:
        return found
    from formula_vcs.figures.process_run import process

    walked = process(Breakdown(formula))
    for machine in machines:
        for moved in scale(walked, size, machine).moved:
            found[moved.row.stage.step.id] = _moved(moved, found[moved.row.stage.step.id])
    return found


def fillings(formula: Formula, size: Fraction, machines: Sequence[Equipment]) -> Iterator[str]:
    """Say which vessels a batch of a size in kg fills over or under what they work with."""
    if not formula.recipe.steps:
        return
    from formula_vcs.figures.process_run import process

    walked = process(Breakdown(formula), size)
    found: dict[str, list[Filling]] = {}
    vessels = [machine for machine in machines if machine.volume is not None]
    for filling in scale(walked, size, vessels[0]).fillings if vessels else _as_stated(walked):
        found.setdefault(filling.vessel, []).append(filling)
    for vessel, mine in found.items():
        machine = mine[0].machine
        most = max(filling.volume for filling in mine) * 1000
        low, high = machine.working_range or (None, None)
        name = f"{vessel} ({machine.title})"
        if machine.volume is not None and most > float(machine.volume) * 1000:
            yield f"{name} holds {float(machine.volume) * 1000:,.0f} L, and the batch takes {most:,.0f} L"
        elif high is not None and most > float(high) * 1000:
            yield f"{name} works with {float(high) * 1000:,.0f} L at most, and the batch takes {most:,.0f} L"
        elif low is not None and most < float(low) * 1000:
            yield f"{name} works with {float(low) * 1000:,.0f} L at least, and the batch takes {most:,.0f} L"


def _as_stated(walked: Process) -> Iterator[Filling]:
    for row in walked.rows:
        machine = walked.machines.get(row.stage.vessel)
        if machine is not None and row.work.volume is not None:
            yield Filling(row.stage.step.id, row.stage.vessel, machine, row.work.volume)


def _stated(step: Step) -> dict[str, str]:
    values = {name: step.facts.get(name) for name in _VALUES}
    return {name: str(value) for name, value in values.items() if value is not None}


def _moved(moved: ScaledStep, before: StepTarget) -> StepTarget:
    old, new = moved.speeds
    mine = {**before.values, "mixer": moved.device.id}
    was = before.values.get("mixer", "")
    if new is None or old is None:
        return StepTarget(mine, f"moved from '{was}'; its speed is not scaled: {moved.missing}")
    speed = new if moved.limited is None else moved.limited
    mine["speed"] = f"{_three(speed * 60)} rpm"
    words = f"from {before.values.get('speed', '')} on '{was}', keeps {moved.rule}"
    if moved.limited is not None:
        words = f"from {before.values.get('speed', '')} on '{was}'; {moved.device.speed} is all it turns, so the "
        words += f"{moved.rule} is not kept"
    return StepTarget(mine, words)


def _three(value: float) -> str:
    """Write a speed with three digits: 3110, 47.3."""
    return f"{float(f'{value:.3g}'):g}" if value < 1e6 else f"{value:.0f}"


def advice(refusals: Sequence[Refusal], size: Fraction, recipe: str) -> str:
    """Say which lines cannot be weighed, and what is to be done about it."""
    said = [f"{one.line.key}: {mass_text(one.mass)} cannot be weighed: {one.why}" for one in refusals[:_MOST_SAID]]
    if len(refusals) > _MOST_SAID:
        said.append(f"and {len(refusals) - _MOST_SAID} more")
    batches = [one.batch for one in refusals]
    known = [batch for batch in batches if batch is not None]
    if len(known) < len(batches):
        return f'{"; ".join(said)}. Describe a balance that can (equipment/, kind = "balance"), or make a premix'
    largest = max(known)
    ways = ["a finer balance", f"a batch of {mass_text(rounded_up(largest))} or more"]
    if largest > size:
        worst = max(refusals, key=lambda one: one.batch or size)
        pct = worst.line.share * 100 * largest / size
        ways.append(f"a premix that holds it, of which {float(pct):.3g} % or more goes into '{recipe}'")
    return f"{'; '.join(said)}. What helps: {', '.join(ways[:-1])} or {ways[-1]}"


_MOST_SAID: Final = 5
