"""The charges that differ between two batches: asked otherwise, weighed otherwise, or in one batch only."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.trace.difference import ITSELF, Difference, graded
from formula_vcs.trace.trace_context import TraceContext, sign
from formula_vcs.trace.weighed_rows import ChargePair, WeighedCharge
from formula_vcs.words.numbers import shown, signed

_ALIKE: Final = Fraction(1, 1000)  # shares nearer than this are one: what follows from others moves that little


def of_charges(view: TraceContext, rows: Iterable[ChargePair]) -> Iterator[Difference]:
    """Give the charges that differ: asked otherwise, weighed otherwise, or in one batch only."""
    for row in rows:
        if any(side.slip for side in row.sides):
            continue
        found = _one_sided(view, row) if row.old is None or row.new is None else _charge(view, row.old, row.new)
        if found is not None:
            yield found


def _one_sided(view: TraceContext, row: ChargePair) -> Difference | None:
    side = row.new or row.old
    assert side is not None  # noqa: S101 - a row has a side
    taken = side.share if side.share is not None else side.asked
    other = view.old if row.old is None else view.new
    if not taken or (other.formula is None and not other.charges):
        return None
    if view.same_in_all(side.ingredient):  # it came into a premix, or out of one
        view.put_aside += 1
        return None
    words = f"{shown(taken)} %"
    by, undone = view.by(f"phase/{side.key.replace('/', '/charge/', 1)}")
    return Difference(
        "recipe", (), "amount", _place(side.key), "", None if row.old is None else words,
        None if row.new is None else words, 1 if row.old is None else -1, Fraction(1), ITSELF,
        "large" if side.share is not None else "asked", view.functions(side.ingredient), form=view.form, by=by,
        undone=undone,
    )  # fmt: skip


def _charge(view: TraceContext, old: WeighedCharge, new: WeighedCharge) -> Difference | None:
    asked = _relative(old.asked, new.asked)
    moved = asked is not None and abs(asked) > max(_ALIKE, old.doubt + new.doubt)
    follows = old.balance and new.balance
    if follows or not moved:
        return _weighed(view, old, new)
    if old.ingredient == new.ingredient and view.same_in_all(new.ingredient):
        view.put_aside += 1
        return _weighed(view, old, new)
    recorded = old.share is not None and new.share is not None
    size = _relative(old.share, new.share) if recorded else asked
    way = sign(size)
    if size is None or not way:
        return None
    by, undone = view.by(f"phase/{old.key.replace('/', '/charge/', 1)}", f"phase/{new.key.replace('/', '/charge/', 1)}")
    notes = [f"weighed {_percent(old.share)} and {_percent(new.share)} of the batch"] if recorded else []
    return Difference(
        "recipe", (), "amount", _place(new.key), "", _percent(old.asked), _percent(new.asked), way, size, ITSELF,
        graded("amount", size, ITSELF, way, recorded=recorded), view.functions(new.ingredient), form=view.form,
        by=by, undone=undone, notes=tuple(notes),
    )  # fmt: skip


def _weighed(view: TraceContext, old: WeighedCharge, new: WeighedCharge) -> Difference | None:
    if old.deviation is None or new.deviation is None or old.deviation == new.deviation:
        return None
    if not (old.off or new.off):
        view.put_aside += 1
        return None
    size = (1 + new.deviation) / (1 + old.deviation) - 1 if old.deviation > -1 else Fraction(-1)
    words = [f"{signed(100 * (side.deviation or Fraction(0)), 1, 2)} % of target" for side in (old, new)]
    outside = [batch.batch.id for batch, side in ((view.old, old), (view.new, new)) if side.outside]
    notes = (f"beyond the tolerance of {shown(100 * new.tolerance, 0, 2)} % in {' and '.join(outside)}",)
    way = sign(size)
    return Difference(
        "making", (), "amount", _place(new.key), "", words[0], words[1], way, size, ITSELF,
        graded("amount", size, ITSELF, way, recorded=True), view.functions(new.ingredient), form=view.form,
        notes=notes if outside else (),
    )  # fmt: skip


def _place(key: str) -> str:
    phase, _, ingredient = key.partition("/")
    return f"{ingredient} ({phase})"


def _percent(value: Fraction | None) -> str | None:
    return None if value is None else f"{shown(value, 2, 4)} %"


def _relative(old: Fraction | None, new: Fraction | None) -> Fraction | None:
    return None if not old or new is None else (new - old) / old
