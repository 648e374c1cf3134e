"""Part four of a trace: the lots of both batches, their certificates, and what premix lots were made of."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from formula_vcs.model.batch import Batch, BatchCharge
from formula_vcs.model.quantity import Range
from formula_vcs.model.values import dataclass, field
from formula_vcs.rules.records.lots import Taker, unfit_batch, unfit_lot
from formula_vcs.trace.batch_context import BatchContext, Records
from formula_vcs.trace.cause_file import folded
from formula_vcs.trace.compare_measurements import MeasuredPair, RangePlace, in_widths, middle, pair, place
from formula_vcs.trace.lot_mixture import LotShare, Shares, main_of, mixed, shares_of

if TYPE_CHECKING:
    from formula_vcs.trace.result_rows import ResultRow
    from formula_vcs.trace.trace import Trace

_NEAR: Final = Fraction(1, 10)  # of the width of a spec: nearer than this to an end is near it (common practice)
_ALIKE: Final = Fraction(1, 100)  # shares of a charge nearer than this are one: what weighing does to them
_MOST_DEEP: Final = 8


@dataclass(frozen=True, slots=True)
class CertificateRow:
    """One value that the suppliers measured on both lots, against the ingredient's spec.

    Where a charge came from several lots, ``pair`` is about the mixture, and ``parts`` (old, new) says what it is of.
    """

    name: str
    pair: MeasuredPair
    spec: Range | None
    before: RangePlace
    after: RangePlace
    widths: Fraction | None
    parts: tuple[tuple[LotShare, ...], tuple[LotShare, ...]] = ((), ())

    @property
    def several(self) -> tuple[tuple[LotShare, ...], ...]:
        """Give the sides that are mixtures."""
        return tuple(side for side in self.parts if len(side) > 1)


@dataclass(frozen=True, slots=True)
class LotRow:
    """The lots of one charge in both batches.

    ``state``: same, new (another lot), not recorded (a side names none), new material (the other batch has none of it).
    ``shares`` (old, new) say how much of the charge each lot is.  ``inner`` is the trace of the two premix batches,
    where the lots are batches: of ``inner_of`` (old, new), which are ``weight`` of the charge.  ``made`` says that the
    lots are batches.  ``notes`` say what is odd about them; of ``unknown`` ones nothing is on file.
    """

    key: str
    ingredient: str
    old: tuple[str, ...]
    new: tuple[str, ...]
    state: str
    certificates: tuple[CertificateRow, ...] = ()
    inner: Trace | None = None
    notes: tuple[str, ...] = ()
    shares: tuple[Shares, Shares] = field(default_factory=lambda: ({}, {}), hash=False)
    inner_of: tuple[str, ...] = ()
    weight: Fraction | None = Fraction(1)
    made: bool = False
    unknown: tuple[str, ...] = ()

    @property
    def several(self) -> bool:
        """Say whether a side of the charge came from more than one lot."""
        return len(self.old) > 1 or len(self.new) > 1

    @property
    def values(self) -> tuple[CertificateRow | ResultRow, ...]:
        """Give what is known of both: certificates, mixtures, or what was measured on the two premix batches."""
        return self.inner.results if self.inner is not None and not self.several else self.certificates


Inner = Callable[[Batch, Batch, int], "Trace"]


class LotComparer:
    """Compares lots; ``inner`` traces the two batches that a premix came from."""

    def __init__(self, records: Records, old: BatchContext, new: BatchContext, inner: Inner, depth: int) -> None:
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
        unknown = tuple(lot for lot in now if self.records.lot(lot) is None and self.records.batch(lot) is None)
        if before is None or after is None:
            return LotRow(key, ingredient, was, now, "new material", notes=tuple(notes), unknown=unknown)
        if not was or not now:
            return LotRow(key, ingredient, was, now, "not recorded", notes=tuple(notes), unknown=unknown)
        shares = shares_of(old), shares_of(new)
        if _alike(*shares):
            return LotRow(key, ingredient, was, now, "same", notes=tuple(notes), shares=shares, unknown=unknown)
        if any(share is None for side in shares for share in side.values()):
            notes.append("several lots, and not all of their masses are recorded: what they come to is not known")
        ones, weight = _apart(*shares)
        inner = self._inner(*ones) if ones else None
        alone = len(was) == len(now) == 1
        rows = () if inner is not None and alone else self._certificates(ingredient, *shares)
        made = any(self.records.lot(lot) is None and self.records.batch(lot) is not None for lot in now)
        return LotRow(
            key, ingredient, was, now, "new", rows, inner, tuple(notes), shares, ones, weight, made, unknown
        )  # fmt: skip

    def _inner(self, old: str, new: str) -> Trace | None:
        batches = [None if self.records.lot(name) is not None else self.records.batch(name) for name in (old, new)]
        if batches[0] is None or batches[1] is None or self.depth >= _MOST_DEEP:
            return None
        return self.inner(batches[0], batches[1], self.depth + 1)

    def _certificates(self, ingredient: str, old: Shares, new: Shares) -> tuple[CertificateRow, ...]:
        known = {lot: self._values(lot) for lot in (*new, *old)}
        names = {key: name for lot in (*old, *new) for key, (name, _) in known[lot].items()}
        spec = self.spec(ingredient)
        rows = []
        for key in dict.fromkeys(key for values in known.values() for key in values):
            before, after = (
                tuple(LotShare(lot, share, middle(known[lot].get(key, ("", None))[1])) for lot, share in side.items())
                for side in (old, new)
            )
            found = pair(mixed(key, before), mixed(key, after))
            own = spec.get(key)
            places = place(found.old, own), place(found.new, own)
            rows.append(CertificateRow(names[key], found, own, *places, in_widths(found, own), (before, after)))
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
        premix = None if formula is None else formula.premix_of(ingredient)
        facts = {} if material is None else {**({} if premix is None else premix.facts), **material.facts}
        return {
            folded(path[1]): value
            for path, value in facts.items()
            if path[0] == "spec" and len(path) == 2 and isinstance(value, Range)
        }

    def _odd(self, side: BatchContext, lots: Iterable[str], ingredient: str) -> Iterable[str]:
        """Say why lots that were taken might not have been."""
        formula = side.formula or side.stand_in
        premix = None if formula is None else formula.premix_of(ingredient)
        batch = side.batch
        taker = Taker(ingredient, "" if premix is None else premix.id, batch.id, batch.date, closed=False)
        for name in lots:
            lot, made = self.records.lot(name), self.records.batch(name)
            if lot is not None:
                yield from (why.words for why in unfit_lot(lot, taker))
            elif made is not None:
                yield from (why.words for why in unfit_batch(made, taker))


def _alike(old: Shares, new: Shares) -> bool:
    """Say whether two charges came from the same lots in about the same shares, as far as these are known."""
    if set(old) != set(new):
        return False
    pairs = ((old[lot], new[lot]) for lot in new)
    return all(one is None or other is None or abs(one - other) <= _ALIKE for one, other in pairs)


def _apart(old: Shares, new: Shares) -> tuple[tuple[str, ...], Fraction | None]:
    """Name the two lots that tell the charges apart most, and how much of a charge the one that only one has is."""
    fresh, gone = main_of(new, old), main_of(old, new)
    was, now = gone or main_of(old), fresh or main_of(new)
    if was is None or now is None or was == now or (fresh is None and gone is None):
        return (), None
    weights = [share for share in (new[now] if fresh else None, old[was] if gone else None) if share is not None]
    return (was, now), max(weights, default=None)


def near(found: RangePlace) -> str:
    """Say whether a value lies near an end of its spec, or beyond it; empty where it does neither."""
    if found.verdict in ("below", "above"):
        return f"{found.verdict} its spec"
    if found.from_low is None:
        return ""
    if found.from_low <= _NEAR:
        return "near the lower limit of its spec"
    return "near the upper limit of its spec" if found.from_low >= 1 - _NEAR else ""
