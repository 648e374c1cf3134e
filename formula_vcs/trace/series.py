"""The results of a recipe's batches in the order of their making, for control charts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.values import dataclass
from formula_vcs.trace import robust
from formula_vcs.trace.batch_context import BatchContext, Records, made_when, party
from formula_vcs.trace.cause_file import folded
from formula_vcs.trace.compare_measurements import digit
from formula_vcs.trace.trace import Trace
from formula_vcs.units.unit_reading import convert

MOST = 40


@dataclass(frozen=True, slots=True)
class Point:
    """One batch: its value in the unit of the series, the range that its own version asks, and its version.

    ``version`` counts the contents of the recipe from 1 in the order in which they appear; ``marked`` says that the
    trace is about this batch.
    """

    batch: str
    date: str
    value: Fraction
    low: Fraction | None
    high: Fraction | None
    version: int
    commit: str
    marked: bool


@dataclass(frozen=True, slots=True)
class Series:
    """One result over the batches.  ``median``, ``low`` and ``high`` are of the batches that are not marked.

    ``low`` and ``high`` are None where these are too few to say.
    """

    name: str
    unit: str
    points: tuple[Point, ...]
    median: Fraction | None
    low: float | None
    high: float | None

    @property
    def others(self) -> int:
        """Count the batches that are not marked."""
        return sum(not point.marked for point in self.points)


def series(records: Records, pins: PinnedVersions, trace: Trace, former: Iterable[str] = ()) -> tuple[Series, ...]:
    """Give each result of the newer batch's recipe over its last batches, up to the later of the two.

    ``former`` are the names that the recipe had before.
    """
    marked = {side.batch.id for side in (trace.old, trace.new)}
    latest = max(made_when(side.batch) for side in (trace.old, trace.new))
    recipe = trace.new.batch.recipe
    known = () if recipe is None else records.of_recipe(recipe, *former)
    batches = [batch for batch in known if made_when(batch) <= latest][-MOST:]
    parties = [party(pins, batch) for batch in batches]
    found = (_series(row.name, parties, marked) for row in trace.results if row.pair.new is not None)
    return tuple(item for item in found if len(item.points) > 1)


def _series(name: str, parties: list[BatchContext], marked: set[str]) -> Series:
    units = [
        value.unit for side in parties if (value := _value(side.batch, name)) is not None and side.batch.id in marked
    ]
    unit = units[-1] if units else ""
    points = tuple(_points(name, unit, parties, marked))
    others = [point.value for point in points if not point.marked]
    middle = robust.median(others) if others else None
    allowed = robust.limit(len(others))
    values = [value for side in parties if (value := _value(side.batch, name)) is not None]
    division = max((digit(value, unit) for value in values if _in(value, unit)), default=Fraction(0))
    half = None if allowed is None else allowed * robust.spread(others, division)
    low = None if half is None or middle is None else float(middle) - half
    high = None if half is None or middle is None else float(middle) + half
    return Series(name, unit, points, middle, low, high)


def _in(value: Quantity, unit: str) -> bool:
    try:
        convert(value, unit)
    except ValueError:
        return False
    return True


def _value(batch: Batch, name: str) -> Quantity | None:
    return next((value for key, value in batch.results.items() if folded(key) == folded(name)), None)


def _points(name: str, unit: str, parties: list[BatchContext], marked: set[str]) -> Iterator[Point]:
    versions: dict[str, int] = {}
    for side in parties:
        batch = side.batch
        value = _value(batch, name)
        version = versions.setdefault(batch.hash or batch.commit or "", len(versions) + 1)
        if value is None:
            continue
        if not _in(value, unit):  # another dimension: it is said in the results
            continue
        number = convert(value, unit)
        spec = (
            None
            if side.formula is None
            else next((span for key, span in side.formula.recipe.spec.items() if folded(key) == folded(name)), None)
        )
        low, high = _ends(spec, unit)
        yield Point(
            batch.id, str(batch.date or ""), number, low, high, version, (batch.commit or "")[:7], batch.id in marked
        )


def _ends(spec: Range | None, unit: str) -> tuple[Fraction | None, Fraction | None]:
    found = []
    for end in (None, None) if spec is None else (spec.low, spec.high):
        try:
            found.append(None if end is None else convert(end, unit))
        except ValueError:
            found.append(None)
    return found[0], found[1]
