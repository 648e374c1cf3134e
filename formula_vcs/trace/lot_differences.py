"""The lots of two batches, their results, and what else changed under the recipe, as differences."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.model.quantity import Quantity
from formula_vcs.trace.cause_file import folded
from formula_vcs.trace.compare_measurements import place
from formula_vcs.trace.difference import DRY, ITSELF, LARGE, WIDTH, Difference, TraceContext, graded
from formula_vcs.trace.lot_mixture import title
from formula_vcs.trace.lots_part import CertificateRow, LotRow, near
from formula_vcs.trace.result_rows import ResultRow
from formula_vcs.trace.target_batch import EXACT_DIGITS, is_aim
from formula_vcs.words.numbers import rounded

_APART: Final = ("old only", "new only", "units")
_MOISTURE: Final = frozenset({"moisture", "loss on drying", "water", "water content"})


def of_lots(view: TraceContext, rows: Iterable[LotRow]) -> Iterator[Difference]:
    """Give what differs between lots, through premix lots to what went into them."""
    for row in rows:
        if row.state != "new":
            continue
        functions = view.functions(row.ingredient)
        if row.inner is not None:
            yield from (_inner(row, item) for item in row.inner.differences if item.part != "results")
        yield from _values(view, row, functions, row.values, "result" if row.made else "certificate")
        known = row.inner is not None or any(item.pair.state not in _APART for item in row.values)
        if not aimed(row) and not known:
            yield Difference(
                "lots", (), "lot", row.ingredient, "", *lot_titles(row), 0, None, "", "open", functions, form=view.form
            )


def _inner(row: LotRow, item: Difference) -> Difference:
    """Give a difference of two premix batches as it is found through them, which may be a part of the charge only."""
    found = item.through(row.ingredient)
    if not row.several:
        return found
    share = "a share that is not recorded" if row.weight is None else f"{_percent(row.weight)} of it"
    note = f"of {row.ingredient}, {share}: {row.inner_of[1]} against {row.inner_of[0]}"
    return found.in_part(Fraction(1) if row.weight is None else row.weight, note)


def lot_titles(row: LotRow) -> tuple[str, str]:
    """Name the lots of both sides, several with their shares."""
    return title(row.old, row.shares[0]), title(row.new, row.shares[1])


def _values(
    view: TraceContext, row: LotRow, functions: frozenset[str], values: Iterable[ResultRow | CertificateRow], what: str
) -> Iterator[Difference]:
    for value in values:
        found = value.pair
        if not found.way or found.slip:
            continue
        if aimed(row) and (value.widths is None or abs(value.widths) < LARGE[what]):
            view.put_aside += 1  # nobody delivers the middle of a spec
            continue
        size, of = _sized(value)
        before, after = lot_titles(row)
        lots = f"lot {after}" if aimed(row) else f"lot {before} to {after}"
        yield Difference(
            "lots", (), what, row.ingredient, value.name, plain(found.old), plain(found.new), found.way, size, of,
            graded(what, size, of, found.way, recorded=True), functions, form=view.form,
            notes=(lots, *mixture_words(value), *_near(row, value)), aim=aimed(row),
        )  # fmt: skip


def of_results(view: TraceContext, rows: Iterable[ResultRow]) -> Iterator[Difference]:
    """Give the results that differ: one can be behind another."""
    for row in rows:
        if row.way:
            size = row.widths if row.widths is not None else None if row.pair.ratio is None else row.pair.ratio - 1
            of = WIDTH if row.widths is not None else ITSELF
            yield Difference(
                "results", (), "result", row.name, row.name, plain(row.pair.old), plain(row.pair.new), row.way, size,
                of, graded("result", size, of, row.way, recorded=True), form=view.form,
            )  # fmt: skip


def of_files(view: TraceContext, lots: Iterable[LotRow]) -> Iterator[Difference]:
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


def _shown_inside(view: TraceContext, premix: str, inside: set[str]) -> bool:
    """Say whether the lots show already what was really in a premix."""
    formula = view.new.formula
    names = [] if formula is None else [name for name in formula.order if formula.ingredients[name].recipe == premix]
    return any(name in inside for name in names)


def _sized(value: ResultRow | CertificateRow) -> tuple[Fraction | None, str]:
    """Give how far two values are apart, and of what: the spec's width, the value, or of moisture what is not water."""
    found = value.pair
    if value.widths is not None:
        return value.widths, WIDTH
    dry = [None if side is None or side.dimension != "share" else 1 - side.base for side in (found.old, found.new)]
    if folded(value.name) in _MOISTURE and dry[0] and dry[1]:
        return dry[1] / dry[0] - 1, DRY
    return None if found.ratio is None else found.ratio - 1, ITSELF


def _near(row: LotRow, value: ResultRow | CertificateRow) -> Iterator[str]:
    """Say which of the lots lies near an end of the spec, or beyond it."""
    sides = [[(", ".join(lots), found)] for lots, found in ((row.old, value.before), (row.new, value.after))]
    if isinstance(value, CertificateRow):
        sides = [[(one.lot, place(one.value, value.spec)) for one in side] for side in value.parts]
    for lot, found in dict.fromkeys(item for side in sides for item in side):
        words = near(found)
        if words and not is_aim(lot):
            yield f"{lot} lies {words}, {value.spec}"


def mixture_words(value: ResultRow | CertificateRow) -> tuple[str, ...]:
    """List what each lot of a mixture has, and say how they were put together."""
    if not isinstance(value, CertificateRow) or not value.several:
        return ()
    listed = dict.fromkeys(one.words for side in value.several for one in side)
    mean = " (of several lots, the mean by mass)" if value.pair.state in ("same", "digit", "differs") else ""
    return (f"{', '.join(listed)}{mean}",)


def _percent(share: Fraction) -> str:
    return f"{rounded(share * 100, 1).normalize():f} %"


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
