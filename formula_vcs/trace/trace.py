"""Trace: two batches compared in four parts, and what of it could explain their results."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.git import repository
from formula_vcs.model.batch import Batch
from formula_vcs.model.facts import unread
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass
from formula_vcs.trace.batch_context import BatchContext, Records, party
from formula_vcs.trace.difference import LARGE, Difference, TraceContext
from formula_vcs.trace.explain import Explained, Explainer, uncovered
from formula_vcs.trace.lot_differences import of_files, of_lots, of_results
from formula_vcs.trace.lots_part import LotComparer, LotRow
from formula_vcs.trace.recipe_part import RecipePart, recipe_part
from formula_vcs.trace.result_rows import ResultRow, ResultTold, results, told
from formula_vcs.trace.step_rows import (
    Lived,
    Pause,
    StepValue,
    lived,
    of_course,
    of_steps,
    one_sided,
    pauses,
    reordered,
    step_values,
    yield_of,
)
from formula_vcs.trace.target_batch import AimedRecords, is_aim
from formula_vcs.trace.weighed_rows import ChargePair, WeighedCharge, charge_rows, of_charges


@dataclass(frozen=True)
class MakingPart:
    """Part three: charges, step values, order, pauses, exposures; people, equipment and yield as (old, new)."""

    charges: tuple[ChargePair, ...]
    steps: tuple[StepValue, ...]
    lone: tuple[tuple[str, bool], ...]
    order: tuple[str, ...]
    pauses: tuple[Pause, ...]
    lived: tuple[Lived, ...]
    people: tuple[str | None, str | None]
    equipment: tuple[tuple[str, ...], tuple[str, ...]]
    yields: tuple[Quantity | None, Quantity | None]


@dataclass(frozen=True)
class Trace:
    """All of a trace.

    ``aim`` says that the old side is no batch but what the recipe asks.  ``differences`` are all that count,
    ``put_aside`` how many lie inside tolerances, ``uncovered`` those that no row of the table is about.  ``missing``
    says what is not recorded, ``flags`` what is odd about the record itself.
    """

    old: BatchContext
    new: BatchContext
    results: tuple[ResultRow, ...]
    recipe: RecipePart
    making: MakingPart
    lots: tuple[LotRow, ...]
    differences: tuple[Difference, ...]
    explained: tuple[Explained, ...]
    uncovered: tuple[Difference, ...]
    missing: tuple[str, ...]
    flags: tuple[str, ...]
    put_aside: int = 0
    aim: bool = False

    @property
    def alone(self) -> bool:
        """Say whether nothing that is recorded differs, the results aside."""
        return not any(item.part != "results" for item in self.differences)


@dataclass
class Tracer:
    """Traces batches of one workspace.  ``repo`` is None outside git, ``folder`` the workspace's in it."""

    records: Records
    pins: PinnedVersions
    repo: repository.Repo | None
    folder: str

    def __post_init__(self) -> None:
        """Know no premix batch to be under way yet."""
        self._under_way: set[tuple[str, str]] = set()

    def trace(self, old: Batch, new: Batch, depth: int = 0, *, aim: bool = False) -> Trace:
        """Compare two batches, and through premix lots the batches that went into them."""
        here = self.records.snapshot
        sides = party(self.pins, old, here), party(self.pins, new, here)
        recipe = RecipePart("same") if aim else recipe_part(self.repo, self.folder, *sides)
        making = _making(*sides, recipe)
        rows = results(*sides)
        lots = self._lots(sides, making, depth, aim=aim)
        view = TraceContext(*sides, recipe)
        differences = [
            *of_charges(view, making.charges),
            *of_steps(view, making.steps),
            *of_course(view, making.pauses),
            *of_lots(view, lots),
            *of_files(view, lots),
            *of_results(view, [row for row in rows if not aim or _off(row)]),
        ]
        found = list({item.id: item for item in differences}.values())
        notes = () if aim else told(*sides, rows)
        explained = tuple(_explained(Explainer(found, dict(_inside(lots))), rows, notes, aim=aim and not depth))
        nested = [row.inner for row in lots if row.inner is not None]
        return Trace(
            *sides, rows, recipe, making, lots, tuple(found), explained, uncovered(found, explained),
            (*_missing(*sides, making, lots, aim=aim), *(() if depth else _bare(lots))),
            (*_flags(*sides, recipe, rows, making, lots=lots, aim=aim), *(() if depth else _grouped(sides, lots))),
            view.put_aside + sum(trace.put_aside for trace in nested), aim,
        )  # fmt: skip

    def against_recipe(self, batch: Batch) -> Trace:
        """Compare a batch with what its own recipe asks."""
        records = AimedRecords(self.records.snapshot, self.pins)
        tracer = Tracer(records, self.pins, self.repo, self.folder)
        return tracer.trace(records.aim(party(self.pins, batch)), batch, aim=True)

    def _lots(
        self, sides: tuple[BatchContext, BatchContext], making: MakingPart, depth: int, *, aim: bool
    ) -> tuple[LotRow, ...]:
        def inner(old: Batch, new: Batch, deeper: int) -> Trace:
            return self.trace(old, new, deeper, aim=aim)

        key = (sides[0].batch.id, sides[1].batch.id)
        if key in self._under_way:  # a premix that went into itself: said by `check`, and not followed here
            return ()
        self._under_way.add(key)
        try:
            pairs = [(_key(row.old), _key(row.new)) for row in making.charges]
            return LotComparer(self.records, *sides, inner, depth).rows(pairs)
        finally:
            self._under_way.discard(key)


def _inside(lots: Iterable[LotRow]) -> Iterator[tuple[tuple[str, ...], tuple[Explained, ...]]]:
    """Give what was explained of premix batches at any depth, by the way there."""
    for row in lots:
        if row.inner is not None:
            yield (row.ingredient,), row.inner.explained
            yield from (((row.ingredient, *way), found) for way, found in _inside(row.inner.lots))


def _off(row: ResultRow) -> bool:
    """Say whether a result is far from the middle of its spec: nobody hits the middle."""
    return row.after.verdict in ("below", "above") or (row.widths is not None and abs(row.widths) >= LARGE["result"])


def _key(side: WeighedCharge | None) -> str | None:
    return None if side is None else side.key


def _making(old: BatchContext, new: BatchContext, recipe: RecipePart) -> MakingPart:
    swaps = [
        (item.change.where.removeprefix("phase/").replace("/charge/", "/"), item.change)
        for item in recipe.changes
        if item.change.kind == "grade-swap" and item.change.where.startswith("phase/")
    ]
    pairs = [(was, f"{was.partition('/')[0]}/{change.new}") for was, change in swaps]
    sides = (old.batch, new.batch)
    return MakingPart(
        charge_rows(old, new, pairs), step_values(old, new), one_sided(old, new), reordered(old, new),
        pauses(old, new), lived(old, new), (sides[0].made_by, sides[1].made_by),
        (sides[0].equipment, sides[1].equipment), (yield_of(old), yield_of(new)),
    )  # fmt: skip


def _explained(
    explainer: Explainer, rows: Iterable[ResultRow], notes: Iterable[ResultTold], *, aim: bool
) -> Iterator[Explained]:
    def far(row: ResultRow) -> tuple[bool, float]:
        return row.after.verdict == "in" and row.before.verdict in ("in", ""), -abs(float(row.widths or 0))

    for row in sorted(rows, key=far):
        if row.way and not (aim and row.after.verdict in ("in", "")):
            yield explainer.result(row)
    for item in notes:
        yield explainer.told(item)


# What is not on record


def _missing(
    old: BatchContext, new: BatchContext, making: MakingPart, lots: Iterable[LotRow], *, aim: bool
) -> Iterator[str]:
    lots = tuple(lots)
    for number, side in enumerate((old, new)):
        if aim and number == 0:
            continue
        name = side.batch.id
        if side.lost:
            yield f"{name}: the recipe that it was made from ({side.lost})"
        charges = [(row.old, row.new)[number] for row in making.charges]
        unweighed = [found.key for found in charges if found is not None and (found.weighed is None or found.slip)]
        if unweighed:
            yield f"{name}: the weighing of {_list(unweighed)}"
        no_lot = [found.key for found in charges if found is not None and not _lots_of(side, found.key)]
        if no_lot:
            yield f"{name}: the lot of {_list(no_lot)}"
        yield from _missing_of_steps(side)
        spec = {} if side.formula is None else side.formula.recipe.spec
        unmeasured = [result for result in spec if result not in side.batch.results]
        if unmeasured:
            yield f"{name}: the result of {_list(unmeasured)}"
        if side.batch.made is None:
            yield f"{name}: how much came out"
        if side.batch.closed is None:
            yield f"{name}: it is not closed, and may not be finished"
    yield from _missing_of_lots(lots)


def _bare(lots: Iterable[LotRow]) -> Iterator[str]:
    """Say once, premixes included, of which lots no certificate value is known."""
    rows = [row for row in _every(lots) if row.state == "new" and row.inner is None and not row.certificates]
    names = [f"{row.ingredient} ({_list(lot for lot in (*row.old, *row.new) if not is_aim(lot))})" for row in rows]
    if names:
        yield f"certificate values of {_list(names, 8)}"


def _missing_of_lots(lots: Iterable[LotRow]) -> Iterator[str]:
    for row in lots:
        yield from (f"{item} (premix {row.ingredient})" for item in (row.inner.missing if row.inner else ()))
        for value in row.certificates:
            lacking = [one.lot for side in value.several for one in side if one.value is None]
            if lacking:
                yield f"{value.name} of {row.ingredient}, lot {_list(lacking)}"


def _lots_of(side: BatchContext, key: str) -> tuple[str, ...]:
    return side.charges[key].lots if key in side.charges else ()


def _missing_of_steps(side: BatchContext) -> Iterator[str]:
    asked = [step for step in side.asked if not any(done.recorded for done in side.steps.get(step, ()))]
    if side.asked and len(asked) == len(side.asked):
        yield f"{side.batch.id}: what was done in any step"
    elif asked:
        yield f"{side.batch.id}: what was done in step {_list(asked)}"


def _list(names: Iterable[str], most: int = 4) -> str:
    names = list(dict.fromkeys(names))
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


# What is odd about the record


def _flags(
    old: BatchContext, new: BatchContext, recipe: RecipePart, rows: Iterable[ResultRow], making: MakingPart,
    *, lots: Iterable[LotRow], aim: bool,
) -> Iterator[str]:  # fmt: skip
    if not aim and old.batch.id == new.batch.id:
        yield f"{new.batch.id} is compared with itself"
    if old.formula is None and new.formula is None and (old.stand_in or new.stand_in):
        yield "neither version can be read: functions, roles of steps and spec are those of the recipe as it is now"
    if not any((old.formula, new.formula, old.stand_in, new.stand_in)):
        yield "no version can be read, and no recipe of that name is here now: what materials and steps do is not known"
    if old.batch.recipe != new.batch.recipe and recipe.state in ("other", "lost"):
        yield f"the batches name two recipes, {old.batch.recipe} and {new.batch.recipe}: what can be compared is"
    for number, side in enumerate((old, new)):
        if not (aim and number == 0):
            yield from _flags_of(side, [found for row in making.charges if (found := (row.old, row.new)[number])])
    for row in rows:
        if row.pair.slip:
            yield f"{row.name}: {row.pair.old} and {row.pair.new} are about a factor of 1,000 apart: a mistaken unit?"
        elif row.pair.state == "units":
            yield f"{row.name}: {row.pair.old} and {row.pair.new} cannot be compared"
    for lot in lots:
        yield from (f"{lot.ingredient}: {note}" for note in lot.notes)
        yield from (f"in {lot.ingredient}: {item}" for item in (lot.inner.flags if lot.inner else ()))


def _grouped(sides: tuple[BatchContext, BatchContext], lots: Iterable[LotRow]) -> Iterator[str]:
    """Say what is odd about many records at once, those of premixes included, in a line each."""
    every = tuple(_every(lots))
    parties = [*sides, *(side for row in every if row.inner is not None for side in (row.inner.old, row.inner.new))]
    stale = dict.fromkeys(side.batch.id for side in parties if side.stale and not is_aim(side.batch.id))
    if stale:
        yield f"{_list(stale)}: the hash is not that of the recipe in the commit that is named"
    unknown = dict.fromkeys(f"{lot} ({row.ingredient})" for row in every for lot in row.unknown)
    if unknown:
        yield f"nothing is on file of lot {_list(unknown, 8)}"


def _every(lots: Iterable[LotRow]) -> Iterator[LotRow]:
    for row in lots:
        yield row
        yield from _every(() if row.inner is None else row.inner.lots)


def _flags_of(side: BatchContext, charges: Iterable[WeighedCharge]) -> Iterator[str]:
    for charge in charges:
        if charge.slip:
            yield (
                f"{side.batch.id}: {charge.key} is about 1,000 times its target, or a thousandth of it: a unit was "
                "mistaken, and the weighing is left out"
            )
    for path, value in unread(side.batch.facts):
        yield f"{side.batch.id}: {'/'.join(path)} cannot be read ({value.message})"
