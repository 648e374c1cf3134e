"""What was done in the steps of two batches, and the differences that it makes."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.figures.process_run import Life
from formula_vcs.model.batch import DONE, BatchStep
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import Step
from formula_vcs.model.values import dataclass
from formula_vcs.process.step_numbers import CLASSES
from formula_vcs.trace.batch_context import BatchContext, done_values
from formula_vcs.trace.compare_measurements import MeasuredPair, middle, pair
from formula_vcs.trace.difference import ITSELF, Difference, TraceContext, graded, sign
from formula_vcs.words.numbers import shown

# --- Part three of a trace, the process: step values, order, waiting times, and what the charges really lived
# through


_ACCEPTS: Final = {"measured": "accept"}
Value = Range | str | None


@dataclass(frozen=True, slots=True)
class StepValue:
    """One value of one step in both batches: what was ``asked`` and what was ``done``, (old, new)."""

    step: str
    name: str
    asked: tuple[Value, Value]
    done: tuple[Value, Value]

    @property
    def taken(self) -> tuple[Value, Value]:
        """Give what was done, or what was asked where nothing is recorded."""
        old, new = (done if done is not None else asked for done, asked in zip(self.done, self.asked, strict=True))
        return old, new

    @property
    def recorded(self) -> bool:
        """Say whether both batches record what was done."""
        return None not in self.done

    @property
    def pair(self) -> MeasuredPair | None:
        """Compare the numbers; None where a side is a word or has none."""
        old, new = self.taken
        sides = [middle(value) if isinstance(value, Range) else None for value in (old, new)]
        return None if None in sides else pair(*sides)

    @property
    def asked_alike(self) -> bool:
        """Say whether both were asked for the same, as far as it is known what they were asked for."""
        return None in self.asked or self.asked[0] == self.asked[1]

    @property
    def same(self) -> bool:
        """Say whether the two are alike: what was done, and what was asked."""
        return self.taken[0] == self.taken[1] and self.asked_alike


@dataclass(frozen=True, slots=True)
class Pause:
    """The minutes between the end of one step and the begin of the next, in both batches."""

    before: str
    old: Fraction
    new: Fraction


@dataclass(frozen=True, slots=True)
class Lived:
    """What some charges lived through in both batches, worked out from what was done: minutes of shear, energy ...

    ``values`` are (name, unit, old, new), only those that differ by a tenth or more.
    """

    charges: tuple[str, ...]
    values: tuple[tuple[str, str, float, float], ...]


def step_values(old: BatchContext, new: BatchContext) -> tuple[StepValue, ...]:
    """Compare the values of all steps that both batches have, in the order of the newer one."""
    found = []
    for name in _steps(old, new):
        sides = [(side.steps.get(name, ()), side.asked.get(name)) for side in (old, new)]
        if any(not times and step is None for times, step in sides):
            continue
        done = [done_values(times) for times, _ in sides]
        asked = [_asked(times, step) for times, step in sides]
        for value in DONE:
            row = StepValue(
                name, value, (asked[0].get(value), asked[1].get(value)), (done[0].get(value), done[1].get(value))
            )
            if any(item is not None for item in (*row.asked, *row.done)):
                found.append(row)
    return tuple(found)


def one_sided(old: BatchContext, new: BatchContext) -> tuple[tuple[str, bool], ...]:
    """Give the steps that only one batch has, each with whether it is the newer one."""
    found = []
    for name in _steps(old, new):
        there = [name in side.steps or name in side.asked for side in (old, new)]
        if there[0] != there[1] and old.asked and new.asked:
            found.append((name, there[1]))
    return tuple(found)


def _steps(old: BatchContext, new: BatchContext) -> list[str]:
    return list(dict.fromkeys((*new.asked, *new.steps, *old.asked, *old.steps)))


def _asked(times: tuple[BatchStep, ...], step: Step | None) -> Mapping[str, Range | str]:
    """Give what the weigh sheet asked, else the recipe."""
    found: dict[str, Range | str] = {}
    for name in DONE:
        fact = _ACCEPTS.get(name, name)
        value = step.facts.get(fact) if step is not None else None
        if isinstance(value, Range | str):
            found[name] = value
    for done in times[:1]:
        found |= {name: value for name in DONE if (value := done.target.get(_ACCEPTS.get(name, name))) is not None}
    return found


def order_of(side: BatchContext) -> tuple[str, ...]:
    """Give the steps as they were done, each where it was done first."""
    return tuple(dict.fromkeys(step.id for step in side.batch.steps if step.recorded))


def reordered(old: BatchContext, new: BatchContext) -> tuple[str, ...]:
    """Name the steps that both did, in the order of the newer batch, where the two orders differ."""
    orders = [order_of(side) for side in (old, new)]
    common = [tuple(step for step in order if step in orders[1 - i]) for i, order in enumerate(orders)]
    return common[1] if common[0] != common[1] else ()


def pauses(old: BatchContext, new: BatchContext) -> tuple[Pause, ...]:
    """Give the waiting times that both batches record."""
    sides = [_pauses(side) for side in (old, new)]
    return tuple(Pause(name, sides[0][name], sides[1][name]) for name in sides[1] if name in sides[0])


def _pauses(side: BatchContext) -> dict[str, Fraction]:
    found: dict[str, Fraction] = {}
    last: datetime.datetime | None = None
    for step in side.batch.steps:
        started, ended = step.moment("started"), step.moment("ended")
        if started is not None and last is not None and (started.tzinfo is None) == (last.tzinfo is None):
            minutes = Fraction(int((started - last).total_seconds()), 60)
            if minutes >= 0:
                found.setdefault(step.id, minutes)
        last = ended  # after a step that does not say when it ended, nobody knows how long was waited
    return found


def lived(old: BatchContext, new: BatchContext) -> tuple[Lived, ...]:
    """Compare what the charges lived through: at the steps' real values, and at the size of each batch."""
    if old.process is None or new.process is None:
        return ()
    before = {key: life for life in old.process.lives for key in life.charges}
    groups: dict[tuple[tuple[str, str, float, float], ...], list[str]] = {}
    for life in new.process.lives:
        for key in life.charges:
            values = _values(before[key], life) if key in before else ()
            if values:
                groups.setdefault(values, []).append(key)
    return tuple(Lived(tuple(keys), values) for values, keys in groups.items())


def _values(old: Life, new: Life) -> tuple[tuple[str, str, float, float], ...]:
    modes = dict.fromkeys((*new.times, *old.times))
    rows = [(f"{mode} shear", "min", old.times.get(mode, 0.0) / 60, new.times.get(mode, 0.0) / 60) for mode in modes]
    for name, unit, was, now, scale in (
        ("energy", "kJ/kg", old.energy, new.energy, 1000.0),
        ("tip speed", "m/s", old.tip, new.tip, 1.0),
    ):
        if was is not None and now is not None:
            rows.append((name, unit, was / scale, now / scale))
    return tuple(row for row in rows if abs(row[3] - row[2]) >= _NOTABLE * max(abs(row[2]), abs(row[3])) > 0)


_NOTABLE: Final = 0.1


def tip_speeds(old: BatchContext, new: BatchContext, step: str) -> tuple[float, float] | None:
    """Give the highest tip speed of a step in both batches in m/s, where both are known."""
    found = []
    for side in (old, new):
        rows = () if side.process is None else side.process.rows
        tip = next((row.numbers.tip for row in rows if row.stage.step.id == step), None)
        if tip is None:
            return None
        found.append(tip[1])
    return found[0], found[1]


def yield_of(side: BatchContext) -> Quantity | None:
    """Give what came out in % of what the targets add up to."""
    made, size = side.batch.made, side.batch.size
    if made is None or size is None or not size.base:
        return None
    number = Decimal(round(made.base * 10000 / size.base)) / 100
    return Quantity(f"{number} %", number, "%", "share", made.base / size.base)


# --- The process of two batches, as differences: step values, order, waiting times, vessels, yield


# What a step may be off where it states one value, and what is not counted: common practice, no source.
_STEP_TOLERANCE: Final = Fraction(10, 100)
_WARMTH: Final = Fraction(2)  # K
_WAITED: Final = 15  # min
_YIELD: Final = Fraction(1, 100)


def of_steps(view: TraceContext, rows: Iterable[StepValue]) -> Iterator[Difference]:
    """Give the step values that differ, as they were done, or as they were asked where that is not recorded."""
    rows = list(rows)
    machines = {row.step for row in rows if row.name == "mixer" and row.taken[0] != row.taken[1]}
    for row in rows:
        if row.name in ("measured", "viscosity") or (row.name == "speed" and row.step in machines):
            continue
        found = _word(view, row) if row.name in ("shear", "mixer") else _number(view, row)
        yield from () if found is None else (found,)
    for step in sorted(machines):
        yield from _tips(view, step)
    for step, newer in one_sided(view.old, view.new):
        yield _lone_step(view, step, newer=newer)


def _number(view: TraceContext, row: StepValue) -> Difference | None:
    found = row.pair
    if found is None or not found.way or found.slip:
        return None
    if row.asked_alike and all(_inside(done, row) for done in row.taken):
        view.put_aside += 1
        return None
    warmth = row.name == "temp"
    gap = _kelvin(row) if warmth else None if found.ratio is None else found.ratio - 1
    of = "K" if warmth else ITSELF
    return _step(view, row, found.way, gap, of)


def _step(view: TraceContext, row: StepValue, way: int, size: Fraction | None, of: str) -> Difference:
    doing = view.doing(row.step)
    by, undone = ((), False) if row.asked_alike else view.by(f"step/{row.step}/{row.name}")
    what = "equipment" if row.name == "mixer" else row.name
    old, new = (None if value is None else str(value) for value in row.taken)
    return Difference(
        "making" if row.asked_alike else "recipe", (), what, row.step, "", old, new, way, size, of,
        graded(what, size, of, way, recorded=row.recorded), doing.functions, doing.roles, view.form, by, undone,
        _asked_words(row),
    )  # fmt: skip


def _word(view: TraceContext, row: StepValue) -> Difference | None:
    old, new = row.taken
    if old == new or not isinstance(old, str) or not isinstance(new, str):
        return None
    if row.name == "mixer":
        return _step(view, row, 0, None, "")
    rank = [CLASSES.index(word) if word in CLASSES else 0 for word in (old, new)]
    way = sign(Fraction(rank[1] - rank[0]))
    return _step(view, row, way, Fraction(1) if way else None, ITSELF)


def _tips(view: TraceContext, step: str) -> Iterator[Difference]:
    """Compare two tools by the speed of their edge: turns a minute of different tools say nothing."""
    tips = tip_speeds(view.old, view.new, step)
    if tips is None or not tips[0]:
        return
    size = Fraction(tips[1] / tips[0] - 1).limit_denominator(10**6)
    if abs(size) <= _STEP_TOLERANCE:
        return
    doing = view.doing(step)
    way = sign(size)
    yield Difference(
        "making", (), "speed", step, "tip speed", f"{tips[0]:.2f} m/s", f"{tips[1]:.2f} m/s", way, size, ITSELF,
        graded("speed", size, ITSELF, way, recorded=True), doing.functions, doing.roles, view.form,
    )  # fmt: skip


def _lone_step(view: TraceContext, step: str, *, newer: bool) -> Difference:
    side = view.new if newer else view.old
    doing = view.doing(step)
    asked = side.asked.get(step)
    span = None if asked is None else asked.span("time") or asked.span("rest")
    what = "rest" if asked is not None and asked.span("rest") is not None else "time"
    words = "done" if span is None else str(span)
    by, undone = view.by(f"step/{step}")
    return Difference(
        "recipe", (), what, step, "", None if newer else words, words if newer else None, 1 if newer else -1,
        Fraction(1), ITSELF, "large" if step in side.steps else "asked", doing.functions, doing.roles, view.form,
        by, undone, ("the other batch has no such step",),
    )  # fmt: skip


def of_course(view: TraceContext, pauses: Iterable[Pause]) -> Iterator[Difference]:
    """Give what differs in the course of the making: order, waiting times, vessels, yield."""
    order = reordered(view.old, view.new)
    if order:
        yield _open(view, "order", "steps", None, ", ".join(order))
    for item in pauses:
        if abs(item.new - item.old) <= _WAITED:
            continue
        doing = view.doing(item.before)
        size = item.new - item.old
        yield Difference(
            "making", (), "pause", item.before, "", _minutes(item.old), _minutes(item.new), sign(size), size,
            "min", graded("pause", size, "min", sign(size), recorded=True), doing.functions, doing.roles,
            view.form,
        )  # fmt: skip
    machines = [side.batch.equipment for side in (view.old, view.new)]
    if all(machines) and set(machines[0]) != set(machines[1]):
        yield _open(view, "equipment", "batch", ", ".join(machines[0]), ", ".join(machines[1]))
    yield from _yield(view)


def _yield(view: TraceContext) -> Iterator[Difference]:
    sides = [yield_of(side) for side in (view.old, view.new)]
    if sides[0] is None or sides[1] is None:
        return
    size = sides[1].base - sides[0].base
    if abs(size) <= _YIELD:
        view.put_aside += 1 if size else 0
        return
    grade = graded("yield", size, "points", sign(size), recorded=True)
    yield Difference(
        "making", (), "yield", "batch", "", str(sides[0]), str(sides[1]), sign(size), size, "points", grade,
        form=view.form,
    )  # fmt: skip


def _open(view: TraceContext, what: str, about: str, old: str | None, new: str | None) -> Difference:
    doing = view.everything
    return Difference(
        "making", (), what, about, "", old, new, 0, None, "", "open", doing.functions, doing.roles, view.form
    )


def _minutes(value: Fraction) -> str:
    return f"{shown(value, 0, 1)} min"


def _inside(done: Range | str | None, row: StepValue) -> bool:
    """Say whether what was done lies within what was asked."""
    asked = row.asked[1] if row.asked[1] is not None else row.asked[0]
    value = middle(done) if isinstance(done, Range) else None
    if not isinstance(asked, Range) or value is None:
        return False
    if not asked.single:
        return asked.contains(value)
    wanted = asked.low
    if wanted is None or not wanted.comparable(value):
        return False
    off = abs(value.base - wanted.base)
    return off <= (_WARMTH if row.name == "temp" else abs(wanted.base) * _STEP_TOLERANCE)


def _kelvin(row: StepValue) -> Fraction | None:
    found = row.pair
    return None if found is None or found.old is None or found.new is None else found.new.base - found.old.base


def _asked_words(row: StepValue) -> tuple[str, ...]:
    if row.name == "mixer":
        return ()
    if not row.recorded:
        return ("asked; what was done is not recorded in both",)
    if row.asked_alike:
        return () if row.asked[1] is None else (f"asked for {row.asked[1]} in both",)
    old, new = row.asked
    return (f"asked for {old} and {new}",) if (old, new) != row.done else ("as asked in both",)
