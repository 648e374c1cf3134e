"""What is unusual in a batch among the batches of a recipe that were made before it.

Each value of the batch is held against those of its peers: median, median absolute deviation, and a limit that is wider
for fewer peers (`figures.robust`).  Results, weighings in % of their targets, step values, and what is known of lots;
a lot counts once, however many peers took it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Final

from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch, Portion
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import STEP_RANGES
from formula_vcs.model.values import dataclass, field
from formula_vcs.trace import robust
from formula_vcs.trace.batch_context import BatchContext, Records, done_values, made_when, party
from formula_vcs.trace.cause_file import folded
from formula_vcs.trace.compare_measurements import RangePlace, digit, middle, place
from formula_vcs.trace.step_rows import yield_of
from formula_vcs.units.unit_reading import convert
from formula_vcs.words.numbers import rounded

KINDS: Final = ("result", "weighing", "step", "lot")
_MOST_DEEP: Final = 8
_MOST_PLACES: Final = 4
Key = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PeerRow:
    """One value of the batch among its peers; the numbers of ``found`` and of ``others``, the peers', are in ``unit``.

    ``kind`` is result, weighing, step or lot; ``name`` says of what, the outermost first.  ``found`` is None where no
    peer has such a value in the same dimension.
    """

    kind: str
    name: tuple[str, ...]
    value: Quantity
    unit: str
    number: Fraction
    found: robust.Unusual | None
    spec: Range | None = None
    place: RangePlace = field(default_factory=lambda: RangePlace("", None))
    others: tuple[Fraction, ...] = ()

    @property
    def stands_out(self) -> bool:
        """Say whether the value lies beyond what peers let expect."""
        return self.found is not None and self.found.stands_out


@dataclass(frozen=True, slots=True)
class Among:
    """A batch among its peers, the nearest in time last; ``rows`` by kind, what stands out most first.

    ``fresh_lots`` went into this batch and into none of the peers; ``fresh_version`` says that no peer was made from
    the same content of the recipe.
    """

    side: BatchContext
    recipe: str
    asked: int
    peers: tuple[Batch, ...]
    rows: tuple[PeerRow, ...]
    fresh_lots: tuple[str, ...]
    fresh_version: bool

    @property
    def unusual(self) -> tuple[PeerRow, ...]:
        """Give what stands out."""
        return tuple(row for row in self.rows if row.stands_out)

    @property
    def judged(self) -> int:
        """Count the values that could be judged."""
        return sum(row.found is not None and row.found.limit is not None for row in self.rows)

    @property
    def by_chance(self) -> float:
        """Give how many of the judged values stand out by chance alone in a batch like any other."""
        return self.judged * robust.chance()


def among(
    records: Records, pins: PinnedVersions, batch: Batch, recipe: str, last: int, *, former: Iterable[str] = ()
) -> Among:
    """Compare a batch with the last batches of a recipe that were made before it, under its ``former`` names too.

    A batch without a date is no peer, and has none: nobody knows what was before it.
    """
    own = made_when(batch)
    known = [peer for peer in records.of_recipe(recipe, *former) if peer.id != batch.id and peer.date is not None]
    earlier = [peer for peer in known if made_when(peer) < own]
    peers = tuple(earlier[-last:]) if last > 0 else ()
    side = party(pins, batch)
    kinds = _Kinds(records, side)
    others = [dict(kinds.of_batch(peer)) for peer in peers]
    rows = [
        kinds.row(key, value, [peer[key] for peer in others if key in peer]) for key, value in kinds.of_batch(batch)
    ]
    rows += [kinds.row(key, value, known) for key, value, known in kinds.of_lots(batch, peers)]
    hashes = {peer.hash for peer in peers}
    taken = {lot for peer in peers for lot in peer.lots}
    return Among(
        side,
        recipe,
        last,
        peers,
        tuple(sorted(rows, key=_rank)),
        tuple(lot for lot in batch.lots if lot not in taken),
        bool(peers) and batch.hash not in hashes,
    )


def _rank(row: PeerRow) -> tuple[int, float]:
    found = row.found
    far = 0.0 if found is None or found.score is None or not found.limit else abs(found.score) / found.limit
    return KINDS.index(row.kind), -far


class _Kinds:
    """Reads the values of batches, each under a key that its peers have too."""

    def __init__(self, records: Records, side: BatchContext) -> None:
        self.records = records
        self.side = side
        self._worth: dict[Key, Fraction] = {}  # what a last digit is worth, of the batch that was read last
        self._spelled: dict[str, str] = {}  # names of results and of lots' values, as the batch and its lots write them

    def of_batch(self, batch: Batch) -> Iterator[tuple[Key, Quantity]]:
        for name, value in batch.results.items():
            yield ("result", self._key(name)), value
        for charge in batch.charges:
            target, weighed = charge.target, charge.weighed
            if target is not None and target.base and weighed is not None:
                worth = _worth(charge.weighings, target)
                self._worth["weighing", charge.key] = worth
                yield ("weighing", charge.key), _share(weighed, target, worth)
        came = yield_of(BatchContext(batch, None))
        if came is not None:
            yield ("step", "batch", "yield"), came
        for name in dict.fromkeys(step.id for step in batch.steps):
            done = done_values(tuple(step for step in batch.steps if step.id == name))
            for what in STEP_RANGES:
                span = done.get(what)
                found = middle(span) if isinstance(span, Range) else None
                if found is not None:
                    yield ("step", name, what), found

    def of_lots(self, batch: Batch, peers: Iterable[Batch]) -> Iterator[tuple[Key, Quantity, list[Quantity]]]:
        """Give what is known of the lots of a batch, with the same of all other lots that its peers took."""
        known: dict[Key, dict[str, Quantity]] = {}
        for peer in peers:
            for key, lot, value in self._lots(peer, ()):
                known.setdefault(key, {})[lot] = value
        seen: set[Key] = set()
        for key, lot, value in self._lots(batch, ()):
            if key not in seen:
                seen.add(key)
                yield key, value, [other for name, other in known.get(key, {}).items() if name != lot]

    def _lots(self, batch: Batch, via: tuple[str, ...]) -> Iterator[tuple[Key, str, Quantity]]:
        for charge in batch.charges:
            for name in charge.lots:
                at = ("lot", *via, charge.ingredient)
                lot = self.records.lot(name)
                made = self.records.batch(name) if lot is None else None
                for value, found in self._values(name).items():
                    yield (*at, value), name, found
                if made is not None and len(via) < _MOST_DEEP and made.id not in via:
                    yield from self._lots(made, (*via, charge.ingredient))

    def _key(self, name: str) -> str:
        self._spelled.setdefault(folded(name), name)
        return folded(name)

    def _values(self, name: str) -> Mapping[str, Quantity]:
        lot = self.records.lot(name)
        if lot is not None:
            found = {self._key(key): middle(value) for key, value in lot.certificate.items()}
            return {key: value for key, value in found.items() if value is not None}
        made = self.records.batch(name)
        return {} if made is None else {self._key(key): value for key, value in made.results.items()}

    def row(self, key: Key, value: Quantity, others: Iterable[Quantity]) -> PeerRow:
        unit = value.unit
        fitting = [other for other in others if other.comparable(value)]
        number = Fraction(value.value)
        exponent = value.value.as_tuple().exponent
        last = Fraction(10) ** exponent if isinstance(exponent, int) else Fraction(0)
        division = self._worth.get(key, last)
        known = tuple(convert(other, unit) for other in fitting)
        found = robust.judge(number, known, division) if fitting else None
        spec = self._spec(key)
        names = (*key[1:-1], self._spelled.get(key[-1], key[-1])) if key[0] in ("result", "lot") else key[1:]
        return PeerRow(key[0], names, value, unit, number, found, spec, place(value, spec), known)

    def _spec(self, key: Key) -> Range | None:
        formula = self.side.formula
        if formula is None:
            return None
        if key[0] == "result":
            return next((span for name, span in formula.recipe.spec.items() if folded(name) == key[1]), None)
        if key[0] == "lot":
            material = formula.ingredients.get(key[-2])
            facts = {} if material is None else material.facts
            return next(
                (
                    span
                    for path, span in facts.items()
                    if path[0] == "spec" and len(path) == 2 and folded(path[1]) == key[-1] and isinstance(span, Range)
                ),
                None,
            )
        return None


def _worth(portions: Iterable[Portion], target: Quantity) -> Fraction:
    """Give how many % of a target the last digit of its weighings is."""
    digits = [digit(portion.weighed, "kg") for portion in portions if portion.weighed is not None]
    return 100 * max(digits, default=Fraction(0)) / target.base


def _share(weighed: Fraction, target: Quantity, worth: Fraction) -> Quantity:
    """Give what was weighed in % of its target, to as many decimals as its last digit is worth."""
    places = next((places for places in range(_MOST_PLACES) if Fraction(1, 10**places) <= worth), _MOST_PLACES)
    number = rounded(100 * weighed / target.base, places)
    return Quantity(f"{number:f} %", number, "%", "share", weighed / target.base)
