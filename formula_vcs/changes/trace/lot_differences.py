"""The lots of two batches, their results, and what else changed under the recipe, as differences."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from formula_vcs.changes.trace.aim import EXACT_DIGITS, is_aim
from formula_vcs.changes.trace.difference import ITSELF, LARGE, WIDTH, Difference, graded
from formula_vcs.changes.trace.lots_part import CertificateRow, LotRow, near
from formula_vcs.changes.trace.results import ResultRow
from formula_vcs.changes.trace.view import View
from formula_vcs.model.quantity import Quantity

_APART: Final = ("old only", "new only", "units")


def of_lots(view: View, rows: Iterable[LotRow]) -> Iterator[Difference]:
    """Give what differs between lots, through premix lots to what went into them."""
    for row in rows:
        if row.state != "new":
            continue
        functions = view.functions(row.ingredient)
        if row.inner is not None:
            yield from (item.through(row.ingredient) for item in row.inner.differences if item.part != "results")
            yield from _values(view, row, functions, row.inner.results, "result")
            continue
        found = [*_values(view, row, functions, row.certificates, "certificate")]
        yield from found
        if not aimed(row) and not any(item.pair.state not in _APART for item in row.certificates):
            lots = ", ".join(row.old), ", ".join(row.new)
            yield Difference(
                "lots", (), "lot", row.ingredient, "", *lots, 0, None, "", "open", functions, form=view.form
            )


def _values(
    view: View, row: LotRow, functions: frozenset[str], values: Iterable[ResultRow | CertificateRow], what: str
) -> Iterator[Difference]:
    for value in values:
        found = value.pair
        if not found.way or found.slip:
            continue
        if aimed(row) and (value.widths is None or abs(value.widths) < LARGE[what]):
            view.put_aside += 1  # nobody delivers the middle of a spec
            continue
        size = value.widths if value.widths is not None else None if found.ratio is None else found.ratio - 1
        of = WIDTH if value.widths is not None else ITSELF
        lots = f"lot {', '.join(row.new)}" if aimed(row) else f"lot {', '.join(row.old)} to {', '.join(row.new)}"
        yield Difference(
            "lots", (), what, row.ingredient, value.name, plain(found.old), plain(found.new), found.way, size, of,
            graded(what, size, of, found.way, recorded=True), functions, form=view.form,
            notes=(lots, *_near(row, value)),
                aim=aimed(row),
        )  # fmt: skip


def of_results(view: View, rows: Iterable[ResultRow]) -> Iterator[Difference]:
    """Give the results that differ: one can be behind another."""
    for row in rows:
        if row.way:
            size = row.widths if row.widths is not None else None if row.pair.ratio is None else row.pair.ratio - 1
            of = WIDTH if row.widths is not None else ITSELF
            yield Difference(
                "results", (), "result", row.name, row.name, plain(row.pair.old), plain(row.pair.new), row.way, size,
                of, graded("result", size, of, row.way, recorded=True), form=view.form,
            )  # fmt: skip


def of_files(view: View, lots: Iterable[LotRow]) -> Iterator[Difference]:
    """Give changes of the recipe that are neither an amount nor a value of a step: grades, places, materials."""
    inside = {row.ingredient for row in lots if row.inner is not None or row.state == "same"}
    for item in view.recipe.changes:
        change, parts = item.change, item.change.where.split("/")
        what = {"grade-swap": "grade", "moved": "phase", "step-moved": "order"}.get(change.kind)
        if change.kind == "premix" and not _shown_inside(view, parts[1], inside):
            what = "grade"
        if change.kind == "ingredient" or parts[0] == "equipment":
            what = "grade" if change.kind == "ingredient" else "equipment"
        if what is not None:
            about = parts[1] if parts[0] in ("premix", "ingredient", "equipment") else parts[-1]
            yield Difference(
                "recipe", (), what, about, "/".join(parts[2:]), change.old, change.new, 0, None, "", "open",
                view.functions(change.new or about if what == "grade" else about), form=view.form, by=item.by,
                undone=item.undone, notes=(change.text,),
            )  # fmt: skip


def _shown_inside(view: View, premix: str, inside: set[str]) -> bool:
    """Say whether the lots show already what was really in a premix."""
    formula = view.new.formula
    names = [] if formula is None else [name for name in formula.order if formula.ingredients[name].recipe == premix]
    return any(name in inside for name in names)


def _near(row: LotRow, value: ResultRow | CertificateRow) -> Iterator[str]:
    """Say which of the lots lies near an end of the spec, or beyond it."""
    for lots, found in ((row.old, value.before), (row.new, value.after)):
        words = near(found)
        if words:
            yield f"{', '.join(lots)} lies {words}, {value.spec}"


def aimed(row: LotRow) -> bool:
    """Say whether the older side is no lot but what the recipe asks for."""
    return any(is_aim(name) for name in row.old)


def plain(value: Quantity | None) -> str:
    """Write a value without the zeros that only say that it is exact."""
    if value is None:
        return "-"
    number = value.value
    exact = number.as_tuple().exponent == -EXACT_DIGITS
    return f"{number.normalize():f} {value.unit}".rstrip() if exact else str(value)
