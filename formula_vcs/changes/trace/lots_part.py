"""Part four of a trace: the lots of both batches, their certificates, and what premix lots were made of."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from formula_vcs.changes.trace.measure import Pair, Place, in_widths, middle, pair, place
from formula_vcs.changes.trace.party import Party
from formula_vcs.changes.trace.records import Records
from formula_vcs.model.batch import Batch, BatchCharge
from formula_vcs.model.cause import folded
from formula_vcs.model.lot import Lot
from formula_vcs.model.quantity import Range

if TYPE_CHECKING:
    from formula_vcs.changes.trace.trace import Trace

_NEAR: Final = Fraction(1, 10)  # of the width of a spec: nearer than this to an end is near it (common practice)
_MOST_DEEP: Final = 8


@dataclass(frozen=True, slots=True)
class CertificateRow:
    """One value that the suppliers measured on both lots, against the ingredient's spec."""

    name: str
    pair: Pair
    spec: Range | None
    before: Place
    after: Place
    widths: Fraction | None


@dataclass(frozen=True, slots=True)
class LotRow:
    """The lots of one charge in both batches.

    ``state``: same, new (another lot), not recorded (a side names none), new material (the other batch has none of it).
    ``inner`` is the trace of the two premix batches, where the lots are batches.  ``notes`` say what is odd about them.
    """

    key: str
    ingredient: str
    old: tuple[str, ...]
    new: tuple[str, ...]
    state: str
    certificates: tuple[CertificateRow, ...] = ()
    inner: Trace | None = None
    notes: tuple[str, ...] = ()


Inner = Callable[[Batch, Batch, int], "Trace"]


class LotComparer:
    """Compares lots; ``inner`` traces the two batches that a premix came from."""

    def __init__(self, records: Records, old: Party, new: Party, inner: Inner, depth: int) -> None:
        """Take what is recorded, the two batches, and how deep in premixes they are."""
        self.records = records
        self.old = old
        self.new = new
        self.inner = inner
        self.depth = depth

    def rows(self, pairs: Iterable[tuple[str | None, str | None]]) -> tuple[LotRow, ...]:
        """Compare the lots of charges, given as (old key, new key); None where a side has no such charge."""
        found = []
        for before, after in pairs:
            charges = self.old.charges.get(before or ""), self.new.charges.get(after or "")
            if charges != (None, None):
                found.append(self._row(before, after, *charges))
        return tuple(found)

    def _row(self, before: str | None, after: str | None, old: BatchCharge | None, new: BatchCharge | None) -> LotRow:
        key = after or before or ""
        ingredient = key.partition("/")[2]
        was, now = (() if charge is None else charge.lots for charge in (old, new))
        notes = [*self._odd(self.new, now, ingredient)]
        if before is None or after is None:
            return LotRow(key, ingredient, was, now, "new material", notes=tuple(notes))
        if not was or not now:
            return LotRow(key, ingredient, was, now, "not recorded", notes=tuple(notes))
        if set(was) == set(now):
            return LotRow(key, ingredient, was, now, "same", notes=tuple(notes))
        mains = [_main(charge) for charge in (old, new)]
        if len(was) > 1 or len(now) > 1:
            notes.append(f"several lots: compared are those with most in them, {mains[0]} and {mains[1]}")
        if mains[0] == mains[1]:
            return LotRow(key, ingredient, was, now, "new", notes=tuple(notes))
        inner = self._inner(*mains)
        rows = () if inner is not None else self._certificates(ingredient, *mains)
        return LotRow(key, ingredient, was, now, "new", rows, inner, tuple(notes))

    def _inner(self, old: str, new: str) -> Trace | None:
        batches = [None if self.records.lot(name) is not None else self.records.batch(name) for name in (old, new)]
        if batches[0] is None or batches[1] is None or self.depth >= _MOST_DEEP:
            return None
        return self.inner(batches[0], batches[1], self.depth + 1)

    def _certificates(self, ingredient: str, old: str, new: str) -> tuple[CertificateRow, ...]:
        before, after = (self._values(name) for name in (old, new))
        spec = self.spec(ingredient)
        rows = []
        for key in dict.fromkeys((*after, *before)):
            name = (after.get(key) or before[key])[0]
            values = [side[key][1] if key in side else None for side in (before, after)]
            found = pair(*(middle(value) for value in values))
            own = spec.get(key)
            places = place(found.old, own), place(found.new, own)
            rows.append(CertificateRow(name, found, own, *places, in_widths(found, own)))
        return tuple(rows)

    def _values(self, lot: str) -> dict[str, tuple[str, Range]]:
        """Give what is known of a lot: its certificate, or the results of the batch that made it."""
        found = self.records.lot(lot)
        if found is not None:
            return {folded(name): (name, value) for name, value in found.certificate.items()}
        made = self.records.batch(lot)
        values = {} if made is None else made.results
        return {folded(name): (name, Range(str(value), value, value)) for name, value in values.items()}

    def spec(self, ingredient: str) -> dict[str, Range]:
        """Give an ingredient's spec: in the version that the newer batch names, else as it is now."""
        formula = self.new.formula or self.old.formula
        material = None if formula is None else formula.ingredients.get(ingredient)
        material = material or self.records.snapshot.ingredient(ingredient)
        facts = {} if material is None else material.facts
        return {
            folded(path[1]): value
            for path, value in facts.items()
            if path[0] == "spec" and len(path) == 2 and isinstance(value, Range)
        }

    def _odd(self, side: Party, lots: Iterable[str], ingredient: str) -> Iterable[str]:
        for name in lots:
            lot = self.records.lot(name)
            if lot is None and self.records.batch(name) is None:
                yield f"nothing is on file of lot '{name}'"
            elif lot is not None:
                yield from _odd_lot(lot, side.batch.date, ingredient)


def _odd_lot(lot: Lot, day: datetime.date | None, ingredient: str) -> Iterable[str]:
    if lot.ingredient not in (None, ingredient):
        yield f"lot '{lot.id}' is of {lot.ingredient}"
    if lot.status not in (None, "released"):
        yield f"lot '{lot.id}' stands at '{lot.status}'"
    if day is not None and lot.expires is not None and lot.expires < day:
        yield f"lot '{lot.id}' had expired on {lot.expires}"


def _main(charge: BatchCharge | None) -> str:
    """Name the lot that most of a charge came from, the first of those with as much."""
    masses: dict[str, Fraction] = {}
    for portion in () if charge is None else charge.weighings:
        if portion.lot is not None:
            mass = Fraction(0) if portion.weighed is None else portion.weighed.base
            masses[portion.lot] = masses.get(portion.lot, Fraction(0)) + mass
    return max(masses, key=lambda name: masses[name])


def near(found: Place) -> str:
    """Say whether a value lies near an end of its spec, or beyond it; empty where it does neither."""
    if found.verdict in ("below", "above"):
        return f"{found.verdict} its spec"
    if found.from_low is None:
        return ""
    if found.from_low <= _NEAR:
        return "near the lower limit of its spec"
    return "near the upper limit of its spec" if found.from_low >= 1 - _NEAR else ""
