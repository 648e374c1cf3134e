"""The whole walk as it is shown: step by step in kg per batch, and what each charge lives through."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.content_flow import longest
from formula_vcs.figures.step_work import StepWork, work
from formula_vcs.figures.vessels import holders, mass_of
from formula_vcs.model.equipment import Equipment
from formula_vcs.process.simulate import StepState, Warmth
from formula_vcs.process.step_numbers import CLASSES, UNKNOWN, Numbers

HUNDRED_KG = Fraction(100)


class ProcessRow(NamedTuple):
    """One step: what it adds (charge, kg), what it takes over (vessel, kg), and what every vessel holds after it."""

    number: int
    stage: StepState
    added: tuple[tuple[str, Fraction], ...]
    joined: tuple[tuple[str, Fraction], ...]
    holds: dict[str, Fraction]
    numbers: Numbers
    work: StepWork

    @property
    def warmth(self) -> Warmth | None:
        """The temperature range of the step's vessel."""
        return self.stage.warmth.get(self.stage.vessel)


class Life(NamedTuple):
    """What some charges live through alike, each (step, its row).  Times in s by class of shear; energy in J/kg."""

    charges: tuple[str, ...]
    rows: tuple[ProcessRow, ...]
    times: dict[str, float]
    energy: float | None
    tip: float | None
    hottest: Fraction | None


class Process(NamedTuple):
    """A recipe's process at a batch size (kg), its vessels in the order in which they are first used."""

    batch: Fraction
    stated: bool
    vessels: tuple[str, ...]
    machines: dict[str, Equipment]
    rows: tuple[ProcessRow, ...]
    lives: tuple[Life, ...]


def process(sums: Breakdown, batch: Fraction | None = None) -> Process:
    """Walk a recipe at a batch size in kg: the one given, else the recipe's, else the workspace's, else 100 kg."""
    own = sums.formula.batch
    size = batch or (own.base if own is not None and own.base else HUNDRED_KG)
    machines = holders(sums.formula)
    rows: list[ProcessRow] = []
    for number, stage in enumerate(sums.walk.stages, 1):
        rows.append(_row(sums, number, stage, size, (rows[-1] if rows else None), machines.get(stage.vessel)))
    vessels = tuple(dict.fromkeys(row.stage.vessel for row in rows))
    return Process(size, batch is not None or own is not None, vessels, machines, tuple(rows), _lives(sums, rows))


def _row(  # noqa: PLR0917 - one row needs all of it
    sums: Breakdown,
    number: int,
    stage: StepState,
    batch: Fraction,
    before: ProcessRow | None,
    machine: Equipment | None,
) -> ProcessRow:
    past = before.stage.contents.get(stage.vessel, {}) if before is not None else {}
    now = stage.contents.get(stage.vessel, {})
    brought: set[str] = set()
    joined: list[tuple[str, Fraction]] = []
    for arrival in stage.arrivals:
        if arrival.source:
            content = before.stage.contents.get(arrival.source, {}) if before is not None else {}
            joined.append((arrival.source, mass_of(sums, content, batch)))
            brought |= set(content)
    added = []
    for key in dict.fromkeys(key for a in stage.arrivals if not a.source for key in a.keys):
        share = now[key] - past.get(key, Fraction(0))
        if key in brought and before is not None:
            share -= sum((before.stage.contents[source].get(key, Fraction(0)) for source, _ in joined), Fraction(0))
        added.append((key, mass_of(sums, {key: share}, batch)))
    holds = {name: mass_of(sums, content, batch) for name, content in stage.contents.items() if content}
    found = sums.numbers(stage.step)
    return ProcessRow(number, stage, tuple(added), tuple(joined), holds, found, work(sums, stage, batch, machine))


def _lives(sums: Breakdown, rows: list[ProcessRow]) -> tuple[Life, ...]:
    """Group charges that live through the same steps."""
    of_step = {row.stage.step.id: row for row in rows}
    groups: dict[tuple[str, ...], list[str]] = {}
    for charge in sums.formula.recipe.charges:
        steps = tuple(exposure.step.id for exposure in sums.walk.exposures.get(charge.key, ()))
        groups.setdefault(steps, []).append(charge.key)
    return tuple(_life(tuple(keys), tuple(of_step[step] for step in steps)) for steps, keys in groups.items())


def _life(charges: tuple[str, ...], rows: tuple[ProcessRow, ...]) -> Life:
    times: dict[str, float] = {}
    for row in rows:
        name = mode(row)
        time = longest(row.stage.step, "time")
        if name != "none" and time is not None:
            times[name] = times.get(name, 0.0) + time
    energies = [row.work.energy for row in rows if row.numbers.speed is not None]
    tips = [row.numbers.tip[1] for row in rows if row.numbers.tip is not None]
    tops = [row.warmth.high for row in rows if row.warmth is not None and row.warmth.high is not None]
    known = [energy for energy in energies if energy is not None]
    return Life(
        charges,
        rows,
        dict(sorted(times.items(), key=lambda item: -_rank(item[0]))),
        sum(known) if known and len(known) == len(energies) else None,
        max(tips, default=None),
        max(tops, default=None),
    )


def mode(row: ProcessRow) -> str:
    """The shear mode that a step states, else the class of its numbers."""
    return row.stage.step.shear or row.numbers.shear_class


def _rank(name: str) -> int:
    return -1 if name == UNKNOWN else CLASSES.index(name)
