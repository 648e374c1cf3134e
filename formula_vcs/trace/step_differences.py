"""The process of two batches, as differences: step values, order, waiting times, vessels, yield."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.model.quantity import Range
from formula_vcs.process.step_numbers import CLASSES
from formula_vcs.trace.compare_measurements import middle
from formula_vcs.trace.difference import ITSELF, Difference, graded
from formula_vcs.trace.step_rows import Pause, StepValue, one_sided, reordered, tip_speeds, yield_of
from formula_vcs.trace.trace_context import TraceContext, sign
from formula_vcs.words.numbers import shown

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
