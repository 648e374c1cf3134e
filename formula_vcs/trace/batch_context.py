"""One batch as it is compared: with the version of the recipe that it names, and the process as it was really done."""

from __future__ import annotations

import datetime
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Final

from formula_vcs.evidence.pinned_versions import Pinned, PinnedVersions
from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.figures.process_run import Process, process
from formula_vcs.figures.tolerance import Tolerance, tolerance_of
from formula_vcs.figures.vessels import shares
from formula_vcs.model.batch import Batch, BatchCharge, BatchStep
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.formula import Formula
from formula_vcs.model.lot import Lot
from formula_vcs.model.quantity import Quantity, Range, exact
from formula_vcs.model.recipe import STEP_ORDER, STEP_VALUES, Charge, Step
from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.rules.rule import LOST
from formula_vcs.trace.compare_measurements import middle
from formula_vcs.units.unit_reading import convert
from formula_vcs.workspace.snapshot import Snapshot

# --- The batches and lots of a workspace, read once each, and who among them went into whom


_NEVER: Final = datetime.date.min


class Records:
    """What is recorded in a workspace.  Whole shelves are read only when a question needs them."""

    def __init__(self, snapshot: Snapshot) -> None:
        """Take the workspace."""
        self.snapshot = snapshot
        self._batches: dict[str, Batch | None] = {}
        self._lots: dict[str, Lot | None] = {}

    def batch(self, name: str) -> Batch | None:
        """Read a batch; None where there is none of that id, or its file does not parse."""
        if name not in self._batches:
            self._batches[name] = self._read_batch(name)
        return self._batches[name]

    def _read_batch(self, name: str) -> Batch | None:
        path = self.snapshot.ids("batches").get(name)
        if path is None:
            return None
        read = self.snapshot.read(path)
        return Batch(name, read.facts, path) if read.whole else None

    def lot(self, name: str) -> Lot | None:
        """Read a lot; None where there is none of that id, or its file does not parse."""
        if name not in self._lots:
            path = self.snapshot.ids("lots").get(name)
            read = None if path is None else self.snapshot.read(path)
            whole = read is not None and read.whole
            self._lots[name] = Lot(name, read.facts, path or "") if read is not None and whole else None
        return self._lots[name]

    @cached_property
    def batches(self) -> tuple[Batch, ...]:
        """Give every batch that can be read, by date, then id; those without a date first."""
        found = [batch for name in self.snapshot.ids("batches") if (batch := self.batch(name)) is not None]
        return tuple(sorted(found, key=made_when))

    @cached_property
    def lots(self) -> tuple[Lot, ...]:
        """Give every lot that can be read, in the order of their files."""
        return tuple(lot for name in self.snapshot.ids("lots") if (lot := self.lot(name)) is not None)

    @cached_property
    def unread(self) -> tuple[str, ...]:
        """Name the files of batches that do not parse: what is in them is not known."""
        shelf = self.snapshot.ids("batches")
        return tuple(path for name, path in shelf.items() if self.batch(name) is None)

    def of_recipe(self, *names: str) -> tuple[Batch, ...]:
        """Give the batches of a recipe, by date, then id; with the names that it had before, those made as these."""
        return tuple(batch for batch in self.batches if batch.recipe in names)

    @cached_property
    def gone(self) -> frozenset[str]:
        """Name the recipes that batches name and that the workspace has no longer: one may have another name now."""
        return frozenset(batch.recipe for batch in self.batches if batch.recipe) - set(self.snapshot.ids("recipe"))

    @cached_property
    def takers(self) -> dict[str, tuple[Batch, ...]]:
        """Give the batches that each lot went into, by the name that they call it."""
        found: dict[str, list[Batch]] = {}
        for batch in self.batches:
            for lot in batch.lots:
                found.setdefault(lot, []).append(batch)
        return {lot: tuple(batches) for lot, batches in found.items()}


def made_when(batch: Batch) -> tuple[datetime.date, str]:
    """Give what batches are put in order by."""
    return (batch.date or _NEVER, batch.id)


# --- One batch as it is compared: with the version of the recipe that it names, and the process as it was really
# done


_OF_STEPS: Final = frozenset({*STEP_VALUES, "viscosity"})


@dataclass(frozen=True)
class BatchContext:
    """A batch with what it was made from.  ``pinned`` is None where it names no commit, or no recipe.

    ``stand_in`` is the recipe as it is now, where the version that the batch names cannot be read: it says what
    materials and steps do, and nothing about amounts.  ``here`` is the workspace as it is now, where that is known.
    """

    batch: Batch
    pinned: Pinned | None
    stand_in: Formula | None = None
    here: Snapshot | None = field(default=None, compare=False, repr=False)

    @property
    def formula(self) -> Formula | None:
        """Give the version of the recipe that it names, where it can be read."""
        return None if self.pinned is None else self.pinned.formula

    @property
    def lost(self) -> str:
        """Say why the version cannot be read; empty where it can."""
        if self.formula is not None:
            return ""
        if self.pinned is None:
            return "the batch does not say from which commit it was made"
        return LOST[self.pinned.state]

    @property
    def stale(self) -> bool:
        """Say whether the hash in the batch is not that of the recipe in the commit that it names."""
        wrong = self.pinned is not None and bool(self.batch.hash) and self.formula is not None
        return wrong and self.pinned is not None and self.pinned.hash != self.batch.hash

    @property
    def form(self) -> str | None:
        """Give the form of the product: emulsion, aqueous ..."""
        formula = self.formula or self.stand_in
        value: str | None = None if formula is None else formula.recipe.get("form")
        return value

    @cached_property
    def sums(self) -> Breakdown | None:
        """Give the sums of the recipe as it was to be made."""
        return None if self.formula is None else breakdown_of(self.formula)

    @cached_property
    def shares(self) -> dict[str, Fraction]:
        """Give the % w/w of each charge that the recipe asks for, by key; empty where the version is lost."""
        return {} if self.sums is None else shares(self.sums)

    @cached_property
    def charges(self) -> dict[str, BatchCharge]:
        """Give what was weighed, by key."""
        return {charge.key: charge for charge in self.batch.charges}

    @cached_property
    def steps(self) -> dict[str, tuple[BatchStep, ...]]:
        """Give what was done, by the recipe's step, each time that it was done."""
        found: dict[str, list[BatchStep]] = {}
        for step in self.batch.steps:
            found.setdefault(step.id, []).append(step)
        return {name: tuple(times) for name, times in found.items()}

    @cached_property
    def asked(self) -> dict[str, Step]:
        """Give the recipe's steps by id."""
        return {} if self.formula is None else {step.id: step for step in self.formula.recipe.steps}

    def charge_of(self, key: str) -> Charge | None:
        """Give the recipe's charge of a key."""
        charges = () if self.formula is None else self.formula.recipe.charges
        return next((charge for charge in charges if charge.key == key), None)

    @cached_property
    def kept(self) -> frozenset[str]:
        """Name the charges that are kept for adjusting: what goes in is measured, not planned."""
        return frozenset(key for step in self.asked.values() for key in step.adjust)

    def tolerance(self, key: str) -> Tolerance:
        """Give the weighing tolerance of a charge as the version had it; where that is lost, by what there is now."""
        formula, name = self.formula or self.stand_in, key.partition("/")[2]
        if formula is None and self.here is not None:
            return tolerance_of(None, self.here.ingredient(name), self.here.workspace)
        if formula is None:
            return tolerance_of(None, None, None)
        return tolerance_of(self.charge_of(key), formula.ingredients.get(name), formula.workspace)

    def division(self, balance: str | None) -> Fraction | None:
        """Give the division of a balance in kg, by its file as it was, else as it is."""
        past = None if self.pinned is None else self.pinned.snapshot
        files = (snapshot for snapshot in (past, self.here) if snapshot is not None and balance is not None)
        machine = next(filter(None, (snapshot.equipment(balance or "") for snapshot in files)), None)
        return None if machine is None else machine.division

    @cached_property
    def actual(self) -> Breakdown | None:
        """Give the recipe with its steps as they were really done: order, shear, speed, time, temperature."""
        if self.formula is None or not self.batch.steps:
            return None
        recipe = self.formula.recipe
        facts = dict(recipe.facts)
        known = facts.get(STEP_ORDER, ())
        done = tuple(dict.fromkeys(step.id for step in self.batch.steps if step.recorded and step.id in known))
        facts[STEP_ORDER] = _as_done(known, done)
        for name, times in self.steps.items():
            if name in known:
                facts |= {("step", name, key): value for key, value in done_values(times).items() if key in _OF_STEPS}
        return Breakdown(replace(self.formula, recipe=replace(recipe, facts=facts), equipment=self._machines()))

    def _machines(self) -> dict[str, Equipment]:
        """Give the equipment of the recipe, and what the batch was really made on."""
        assert self.formula is not None  # noqa: S101 - asked by the caller
        found = dict(self.formula.equipment)
        snapshot = None if self.pinned is None else self.pinned.snapshot
        for step in self.batch.steps:
            mixer = step.done.get("mixer")
            machine = snapshot.equipment(mixer) if snapshot is not None and isinstance(mixer, str) else None
            if machine is not None:
                found[machine.id] = machine
        return found

    @cached_property
    def process(self) -> Process | None:
        """Give the process as it was done, at the size of the batch."""
        size = self.batch.size
        return None if self.actual is None or size is None else process(self.actual, size.base)


def party(pins: PinnedVersions, batch: Batch, snapshot: Snapshot | None = None) -> BatchContext:
    """Find what a batch was made from; where that cannot be read, what ``snapshot`` has of the recipe stands in."""
    named = batch.commit is not None and batch.recipe is not None
    pinned = pins.at(batch.commit or "", batch.recipe or "") if named else None
    if snapshot is None or batch.recipe is None or (pinned is not None and pinned.formula is not None):
        return BatchContext(batch, pinned, None, snapshot)
    recipe = snapshot.recipe(batch.recipe)
    return BatchContext(batch, pinned, None if recipe is None else snapshot.formula(recipe), snapshot)


def done_values(times: tuple[BatchStep, ...]) -> dict[str, Range | str]:
    """Give what was done in a step: its times added up where it was done again, of the rest what was done last.

    A time that is not written is the one between its start and its end.
    """
    found: dict[str, Range | str] = {}
    for step in times:
        done = dict(step.done)
        asked = next((name for name in ("time", "rest") if name in step.target), None)
        lasted = _lasted(step) if asked is not None and not {"time", "rest"} & set(done) else None
        if asked is not None and lasted is not None:
            done[asked] = lasted
        for name, value in done.items():
            before = found.get(name)
            adds = name in ("time", "rest") and isinstance(value, Range) and isinstance(before, Range)
            found[name] = _added(before, value) if adds else value
    return found


def _lasted(step: BatchStep) -> Range | None:
    started, ended = step.moment("started"), step.moment("ended")
    if started is None or ended is None or (started.tzinfo is None) != (ended.tzinfo is None) or ended <= started:
        return None
    minutes = Decimal(round((ended - started).total_seconds() / 60))
    lasted = Quantity(f"{minutes} min", minutes, "min", "time", Fraction(minutes) * 60)
    return Range(lasted.text, lasted, lasted)


def _added(before: object, value: object) -> Range | str:
    """Add two durations; one with an open end stands for both."""
    one, other = (middle(item) if isinstance(item, Range) else None for item in (before, value))
    if one is None or other is None:
        assert isinstance(value, Range)  # noqa: S101 - asked by the caller
        return value
    number = exact(convert(one, "min") + convert(other, "min"))
    minutes = number if isinstance(number, Decimal) else Decimal(round(number))
    both = Quantity(f"{minutes:f} min", minutes, "min", "time", one.base + other.base)
    return Range(both.text, both, both)


def _as_done(known: tuple[str, ...], done: tuple[str, ...]) -> tuple[str, ...]:
    """Put the recipe's steps into the order in which they were done; those not recorded stay where they were."""
    waiting = iter(done)
    return tuple(next(waiting) if name in done else name for name in known)
