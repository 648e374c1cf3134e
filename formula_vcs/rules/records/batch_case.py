"""What the rules about batches have in common: the batch, the version that it pins, and how bad a deviation is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import cached_property

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.tolerance import Tolerance, mistaken_unit, tolerance_of
from formula_vcs.model.batch import Batch, BatchCharge
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Charge, Step
from formula_vcs.rules.rule import PinnedVersion, RecordCase, RecordRule


class BatchView:
    """A batch on a day, with the recipe that it pins, looked up once for all rules."""

    def __init__(self, case: RecordCase) -> None:
        """Take the case of a record of the folder "batches"."""
        self.case = case
        self.batch = Batch(case.record.id, case.record.facts, case.record.file)

    @cached_property
    def pinned(self) -> PinnedVersion | None:
        """The version that it names; None where it names none that can be read."""
        batch = self.batch
        return None if batch.commit is None or batch.recipe is None else self.case.pins.at(batch.commit, batch.recipe)

    @property
    def formula(self) -> Formula | None:
        """The recipe as it was, where it is to be had."""
        return None if self.pinned is None else self.pinned.formula

    @cached_property
    def charges(self) -> dict[str, Charge]:
        """The recipe's charges by key; empty where the recipe is not to be had."""
        return {} if self.formula is None else {charge.key: charge for charge in self.formula.recipe.charges}

    @cached_property
    def steps(self) -> dict[str, Step]:
        """The recipe's steps by id; empty where the recipe is not to be had."""
        return {} if self.formula is None else {step.id: step for step in self.formula.recipe.steps}

    @cached_property
    def kept(self) -> frozenset[str]:
        """Name the charges that are kept for adjusting: what goes in is measured, not planned."""
        return frozenset(key for step in self.steps.values() for key in step.adjust)

    @cached_property
    def shares(self) -> dict[str, Fraction]:
        """The % w/w of each charge of the recipe."""
        if self.formula is None:
            return {}
        return {line.charge.key: line.pct for line in breakdown_of(self.formula).composition.lines}

    @cached_property
    def going_in(self) -> Fraction | None:
        """All that was weighed in kg; None while a charge is not, or was written in the wrong unit."""
        charges = self.batch.charges
        masses = [charge.weighed for charge in charges]
        if not masses or any(mass is None for mass in masses) or set(self.charges) - {one.key for one in charges}:
            return None
        if any(mistaken_unit(one.weighed, one.target.base) for one in charges if one.target is not None):
            return None
        return sum((mass for mass in masses if mass is not None), Fraction(0))

    def equipment(self, name: str) -> Equipment | None:
        """A piece of equipment as it was, else as it is."""
        before = self.pinned.snapshot if self.pinned is not None else None
        found = before.equipment(name) if before is not None else None
        return found or self.case.snapshot.equipment(name)

    def tolerance(self, charge: BatchCharge) -> Tolerance:
        """The weighing tolerance of a charge as the version had it; where that is lost, by what there is now."""
        formula, snapshot = self.formula, self.case.snapshot
        if formula is None:
            return tolerance_of(None, snapshot.ingredient(charge.ingredient), snapshot.workspace)
        ingredient = formula.ingredients.get(charge.ingredient)
        return tolerance_of(self.charges.get(charge.key), ingredient, formula.workspace)

    def division(self, balance: str | None) -> Fraction | None:
        """The division of a balance in kg, where its file states it."""
        machine = None if balance is None else self.equipment(balance)
        return None if machine is None else machine.division

    def severity(self, names: Iterable[str]) -> Severity:
        """Say how bad something is that did not go as planned.

        An open batch is warned of: it is being made.  A closed one blocks, unless a [[deviation]] is about it: then
        somebody has decided, and it is a note.
        """
        if self.batch.closed is None:
            return "warn"
        return "note" if self.decided(names) else "block"

    def decided(self, names: Iterable[str]) -> bool:
        """Say whether a [[deviation]] is about one of some names."""
        wanted = {name.casefold() for name in names}
        return any(row.about.strip().casefold() in wanted for row in self.batch.deviations)


def view(case: RecordCase) -> BatchView:
    """The view of a case, the same for all rules."""
    return case.derived.cached("batch", lambda: BatchView(case))


class BatchRule(RecordRule):
    """A rule about a batch."""

    judges = "batches"

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Judge a batch whose header can be read at all."""
        if case.record.facts:
            yield from self.check_batch(view(case))

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Judge the batch."""
        raise NotImplementedError

    def deviates(self, seen: BatchView, message: str, at: Path, names: Iterable[str]) -> Finding:
        """Word something that did not go as planned; in a closed batch, say how it may stand."""
        known = tuple(names)
        severity = seen.severity(known)
        if severity == "block":
            message += f'; the batch is closed: mend it, or say in [[deviation]] about = "{known[0]}" why it may stand'
        elif severity == "note":
            message += " (decided: see [[deviation]])"
        return self.say_about(seen.case, message, at, severity=severity)

    def missing(self, seen: BatchView, message: str, at: Path, names: Iterable[str]) -> Iterator[Finding]:
        """Word what a closed batch lacks; an open one is still being filled in, so nothing is said of it."""
        if seen.batch.closed is not None:
            yield self.deviates(seen, message, at, names)


def charge_names(key: str, *more: str) -> tuple[str, ...]:
    """The names by which a deviation may mean a charge."""
    return (key, key.partition("/")[2], *more)
