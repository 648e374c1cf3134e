"""The four parts of a trace in lines and cells, the same in every format."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.reports.review_document import ARROW, counted
from formula_vcs.reports.trace_values import (
    WHATS,
    Cell,
    commit_words,
    difference,
    percent,
    remark,
    signed_text,
    value,
)
from formula_vcs.trace.lot_differences import lot_titles, mixture_words
from formula_vcs.trace.lots_part import CertificateRow, LotRow, near
from formula_vcs.trace.result_rows import ResultRow
from formula_vcs.trace.step_rows import Lived, StepValue
from formula_vcs.trace.target_batch import is_aim
from formula_vcs.trace.trace import Trace
from formula_vcs.trace.weighed_rows import ChargePair, WeighedCharge
from formula_vcs.words.numbers import shown


def result_cells(trace: Trace) -> list[Cell]:
    """Give the results as a table."""
    return [_result(row, aim=trace.aim) for row in trace.results]


def _result(row: ResultRow, *, aim: bool) -> Cell:
    old = ("" if row.spec is None else str(row.spec)) if aim else value(row.pair.old)
    return Cell(
        row.name, old, value(row.pair.new), "" if aim else difference(row.pair, row.widths), remark(row, aim=aim)
    )


def recipe_lines(trace: Trace) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Give each change of the recipe with the commits that made it."""
    for item in trace.recipe.changes:
        undone = "in the older batch's version only: " if item.undone else ""
        yield item.change.text, tuple(f"{undone}{commit_words(commit)}" for commit in item.by)


def recipe_verdict(trace: Trace) -> str:
    """Say in a line how the two versions stand."""
    part = trace.recipe
    if part.state == "lost":
        return f"Not known: {part.why}."
    return {
        "same": "The same: not one change in meaning between the two versions.",
        "other": f"Two different recipes, {trace.old.batch.recipe} and {trace.new.batch.recipe}; they differ in:",
        "differs": f"{counted(len(part.changes), 'change')} between the two versions:",
    }[part.state]


def recipe_rest(trace: Trace) -> Iterator[str]:
    """Say what is not listed, and what is not known."""
    part = trace.recipe
    if part.aside:
        listed = ", ".join(f"{count} of {name.replace('_', ' ')}" for name, count in part.aside)
        yield f"Besides, changes that move no measurement: {listed}."
    if part.why and part.state != "lost":
        yield f"{part.why[0].upper()}{part.why[1:]}."


def charge_cells(trace: Trace) -> tuple[list[Cell], str]:
    """Give the charges whose weighings stand out, and say the others in a line."""
    rows = [row for row in trace.making.charges if _worth_a_line(row)]
    others = [
        side for row in trace.making.charges if row not in rows for side in row.sides if side.deviation is not None
    ]
    cells = [Cell(_charge(row), _weighed(row.old), _weighed(row.new), "", _charge_remark(row)) for row in rows]
    if not others:
        return cells, ""
    worst = max(others, key=lambda side: abs(side.deviation or Fraction(0)))
    count = len(trace.making.charges) - len(rows)
    most = f"at most {percent(abs(worst.deviation or Fraction(0)))} off (a weighing of {worst.ingredient})"
    return cells, f"{counted(count, 'other charge')} weighed inside tolerance: {most}."


def _worth_a_line(row: ChargePair) -> bool:
    one = row.old is None or row.new is None
    return one or any(side.off or side.slip or side.weighed is None for side in row.sides) or _asked_moved(row)


def _asked_moved(row: ChargePair) -> bool:
    if row.old is None or row.new is None or (row.old.balance and row.new.balance):
        return False
    if row.old.asked is None or row.new.asked is None:
        return False
    return abs(row.new.asked - row.old.asked) > (row.old.doubt + row.new.doubt) * row.old.asked


def _charge(row: ChargePair) -> str:
    phase, _, ingredient = row.key.partition("/")
    return f"{ingredient} ({phase})"


def _weighed(side: WeighedCharge | None) -> str:
    if side is None:
        return "not in it"
    if side.weighed is None:
        return "not recorded"
    off = "" if side.deviation is None else f" ({percent(side.deviation, sign=True)})"
    return f"{_mass(side.weighed)}{off}"


def _mass(kg: Fraction) -> str:
    return f"{shown(kg * 1000, 1, 2)} g" if kg < 1 else f"{shown(kg, 3, 4)} kg"


def _charge_remark(row: ChargePair) -> str:
    parts = []
    if any(side.slip for side in row.sides):
        parts.append("about a factor of 1,000 off its target: a mistaken unit?")
    if any(side.outside for side in row.sides):
        parts.append(f"tolerance {percent(max(side.tolerance for side in row.sides))}")
    if _asked_moved(row):
        assert row.old is not None  # noqa: S101 - both sides were asked for
        assert row.new is not None  # noqa: S101 - as above
        parts.append(f"asked {shown(row.old.asked or Fraction(0))} {ARROW} {shown(row.new.asked or Fraction(0))} %")
    return "; ".join(parts)


def step_cells(trace: Trace) -> tuple[list[Cell], str]:
    """Give the step values that differ in what counts, and say the others in a line."""
    counts = {item.about + "/" + item.what for item in trace.differences if not item.via}
    listed, moved = [], 0
    for row in trace.making.steps:
        if row.same:
            continue
        what = "equipment" if row.name == "mixer" else row.name
        if f"{row.step}/{what}" in counts or not row.asked_alike:
            listed.append(_step(row))
        else:
            moved += 1
    listed += [
        Cell(f"{step}", "-" if newer else "done", "done" if newer else "-", "", "only one of the recipes has this step")
        for step, newer in trace.making.lone
    ]
    verb = "differs" if moved == 1 else "differ"
    rest = f"{counted(moved, 'other value')} {verb} inside what was asked." if moved else ""
    return listed, rest


def _step(row: StepValue) -> Cell:
    old, new = (value(item) for item in row.taken)
    found = row.pair
    gap = ""
    if found is not None and found.ratio is not None and row.name != "temp":
        gap = percent(found.ratio - 1, sign=True)
    elif found is not None and found.difference is not None:
        gap = f"{signed_text(found.difference)} {'K' if row.name == 'temp' else found.unit}"
    if not row.recorded:
        note = "as asked; not recorded as done in both"
    elif row.asked_alike:
        note = f"asked: {value(row.asked[1])}" if row.asked[1] is not None else ""
    else:
        note = "as asked" if row.asked == row.done else f"asked: {value(row.asked[0])} {ARROW} {value(row.asked[1])}"
    return Cell(f"{row.step}, {WHATS.get(row.name, row.name)}", old, new, gap, note)


def course_lines(trace: Trace) -> Iterator[str]:
    """Say order, waiting times, equipment, people and yield where they differ."""
    making = trace.making
    if making.order:
        yield f"other order of steps in {trace.new.batch.id}: {', '.join(making.order)}"
    counted_ones = {item.about for item in trace.differences if item.what == "pause" and not item.via}
    for pause in making.pauses:
        if pause.before in counted_ones:
            yield f"waited before {pause.before}: {shown(pause.old, 0, 1)} {ARROW} {shown(pause.new, 0, 1)} min"
    old, new = making.equipment
    if not trace.aim and set(old) != set(new):
        yield f"equipment: {', '.join(old) or 'not recorded'} {ARROW} {', '.join(new) or 'not recorded'}"
    if not trace.aim and making.people[0] != making.people[1]:
        yield f"made by: {value(making.people[0])} {ARROW} {value(making.people[1])}"
    yields = making.yields
    if yields[1] is not None:
        was = "" if yields[0] is None else f"{yields[0]} {ARROW} "
        yield f"yield: {was}{yields[1]} of what was weighed"


def lived_lines(trace: Trace) -> Iterator[str]:
    """Say what charges lived through, worked out from what was done."""
    for item in trace.making.lived:
        yield f"{_keys(item)}: {'; '.join(_lived(row) for row in item.values)}"


def _keys(item: Lived) -> str:
    names = [key.partition("/")[2] for key in item.charges]
    return ", ".join(names[:_MOST_NAMES]) + (
        f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    )


_MOST_NAMES: Final = 5


def _lived(row: tuple[str, str, float, float]) -> str:
    name, unit, old, new = row
    return f"{name} {_float(old)} {ARROW} {_float(new)} {unit}"


def _float(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0") if abs(number) < 100 else f"{number:,.0f}"


def lot_rows(lots: Iterable[LotRow]) -> tuple[list[LotRow], str]:
    """Give the lots that differ, and say the others in a line."""
    lots = tuple(lots)
    aim = any(is_aim(name) for row in lots for name in row.old)
    differ = [row for row in lots if (_held(row) if aim else row.state != "same")]
    rest = len(lots) - len(differ)
    words = "from lots with no spec to hold them against." if aim else "from the same lot in both."
    return differ, f"{counted(rest, 'other charge')} {words}" if rest else ""


def _held(row: LotRow) -> bool:
    """Say whether something is known of a lot, or inside of it, that a spec says something about."""
    inner = row.inner
    if inner is None:
        return bool(row.notes) or any(item.spec is not None for item in row.certificates)
    return any(item.spec is not None for item in inner.results) or any(map(_held, inner.lots))


def lot_title(row: LotRow, *, aim: bool = False) -> str:
    """Say which lots of a material went in."""
    old, new = (lots or "not recorded" for lots in lot_titles(row))
    if aim:
        return f"{row.ingredient}: {new}"
    if row.state == "new material":
        return f"{row.ingredient}: {', '.join(row.new or row.old) or 'not recorded'}, in one of the batches only"
    return f"{row.ingredient}: {old} {ARROW} {new}"


def certificate_cells(row: LotRow, *, aim: bool = False) -> tuple[list[Cell], str]:
    """Give the values of two lots that differ, and say the others in a line; of a premix lot its batch's results."""
    values = row.values
    if aim:
        return [_certificate(item, aim=True) for item in values if item.spec is not None], ""
    listed = [item for item in values if item.pair.state not in ("same", "digit")]
    alike = [item.name for item in values if item not in listed]
    cells = [_certificate(item, aim=False) for item in listed]
    return cells, f"alike, as far as recorded: {', '.join(alike)}" if alike else ""


def _certificate(row: CertificateRow | ResultRow, *, aim: bool) -> Cell:
    old = ("" if row.spec is None else str(row.spec)) if aim else value(row.pair.old)
    gap = "" if aim else difference(row.pair, row.widths)
    words = "; ".join(filter(None, (*mixture_words(row), _spec_remark(row, aim=aim))))
    return Cell(row.name, old, value(row.pair.new), gap, words)


def _spec_remark(row: CertificateRow | ResultRow, *, aim: bool) -> str:
    if row.spec is None:
        return "no spec to hold it against"
    where = near(row.after)
    spec = "" if aim else f"spec {row.spec}"
    return "; ".join(filter(None, (spec, where)))
