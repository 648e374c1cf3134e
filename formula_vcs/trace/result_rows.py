"""Part one of a trace: what the two batches measured, in units of the spec's width and against the spec."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import TypeVar

from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.values import dataclass
from formula_vcs.trace.batch_context import BatchContext
from formula_vcs.trace.cause_file import Symptom, folded
from formula_vcs.trace.cause_table import causes
from formula_vcs.trace.compare_measurements import MeasuredPair, RangePlace, in_widths, pair, place

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class ResultRow:
    """One result of both batches.

    ``spec`` is what the recipe of the new batch asks, ``spec_before`` what that of the old one asked; ``before`` and
    ``after`` say where each value lies in its own.  ``widths`` is the difference in widths of ``spec``.
    """

    name: str
    pair: MeasuredPair
    spec: Range | None
    spec_before: Range | None
    before: RangePlace
    after: RangePlace
    widths: Fraction | None

    @property
    def way(self) -> int:
        """Give the way that the result went, 0 where it cannot be said or the digits hide it."""
        return 0 if self.pair.slip else self.pair.way

    @property
    def state(self) -> str:
        """Say how the two compare; "slip" where they are a factor of 1,000 apart."""
        return "slip" if self.pair.slip else self.pair.state


@dataclass(frozen=True, slots=True)
class ResultTold:
    """A symptom that no result measures, and that the note of a batch speaks of."""

    symptom: Symptom
    way: int
    batch: str


def results(old: BatchContext, new: BatchContext) -> tuple[ResultRow, ...]:
    """Compare all results, in the order of the new recipe's spec, then as they were written."""
    formulas = [side.formula for side in (old, new)]
    if not any(formulas):
        formulas = [side.stand_in for side in (old, new)]
    specs = [{} if formula is None else formula.recipe.spec for formula in formulas]
    names = dict.fromkeys(folded(name) for name in (*specs[1], *new.batch.results, *old.batch.results))
    known = {folded(name): name for name in (*old.batch.results, *specs[0], *specs[1], *new.batch.results)}
    rows = []
    for key in names:
        values = [_at(side.batch.results, key) for side in (old, new)]
        if any(value is not None for value in values):
            rows.append(row(known[key], (values[0], values[1]), (_at(specs[0], key), _at(specs[1], key))))
    return tuple(rows)


def row(
    name: str, values: tuple[Quantity | None, Quantity | None], specs: tuple[Range | None, Range | None]
) -> ResultRow:
    """Compare one result."""
    found = pair(*values)
    spec = specs[1] or specs[0]
    before, after = (place(value, own or spec) for value, own in zip(values, specs, strict=True))
    return ResultRow(name, found, specs[1], specs[0], before, after, in_widths(found, spec))


def _at(values: Mapping[str, T], key: str) -> T | None:
    return next((value for name, value in values.items() if folded(name) == key), None)


def told(old: BatchContext, new: BatchContext, rows: tuple[ResultRow, ...]) -> tuple[ResultTold, ...]:
    """Find what only one batch's note says went another way, where no result measures it."""
    table = causes()
    measured = {symptom.name for item in rows if (symptom := table.symptom(item.name)) is not None}
    found = []
    for symptom in table.symptoms:
        if symptom.name in measured:
            continue
        ways = [symptom.said(side.batch.get("note") or "") for side in (old, new)]
        if ways[0] != ways[1] and (not ways[0] or not ways[1]):
            speaker = new if ways[1] else old
            found.append(ResultTold(symptom, ways[1] or -ways[0], speaker.batch.id))
    return tuple(found)
