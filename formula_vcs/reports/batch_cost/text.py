"""The cost of a batch for a terminal."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final, TextIO

from formula_vcs.batches.batch_cost import NAMES, BatchCost
from formula_vcs.model.batch import Batch
from formula_vcs.reports.terminal import Ink, cut, left, right
from formula_vcs.words.escape import terminal
from formula_vcs.words.numbers import apportion, shown

_WHY: Final = {
    "quantity": "more or less was weighed than the target",
    "price": "lots cost more or less than the price list",
    "yield": "more or less came out than expected",
}


def write(batch: Batch, found: BatchCost, *, out: TextIO) -> None:
    """Write the cost, the effects, and the charges that moved it."""
    ink = Ink(out)
    ink.wrapped(f"Cost of batch {batch.id} ({batch.recipe})", style="strong")
    if found.missing:
        ink.wrapped("it cannot be worked out:")
        for item in found.missing:
            ink.wrapped(item, "  ", "      ")
        return
    money = found.currency or "?"
    made = found.made
    ink.wrapped(f"{shown(made, 0, 3)} kg came out; {shown(found.expected, 0, 3)} kg were expected")
    ink.line()
    ink.line(f"{left('', 34)}{right(f'{money}/kg', 14)}{right(f'{money} a batch', 18)}")
    # the printed effects add up to the printed difference
    per_kg = apportion([found.standard, *(found.effects[name] for name in NAMES)], 4)
    whole = apportion([found.standard * made, *(found.effects[name] * made for name in NAMES)], 2)
    _row(ink, "standard", f"{per_kg[0]:f}", f"{whole[0]:f}")
    for name, each_kg, all_of_it in zip(NAMES, per_kg[1:], whole[1:], strict=True):
        _row(ink, f"  {name}", _signed(each_kg), _signed(all_of_it))
    _row(ink, "actual", f"{sum(per_kg):f}", f"{sum(whole):f}")
    if batch.packs:
        each = found.actual * made / batch.packs
        ink.wrapped(f"{batch.packs:,} packs: {shown(each, 4, 4)} {money} of material in each")
    ink.line()
    for name in NAMES:
        ink.wrapped(f"{name}: {_WHY[name]}", "  ", "      ")
    moved = [one for one in found.charges if one.quantity or one.price]
    if moved:
        ink.line()
        ink.line(ink.paint(f"{left('What moved it', 34)}{right('quantity', 14)}{right('price', 18)}", "strong"))
    for one in sorted(moved, key=lambda one: -abs(one.quantity + one.price)):
        numbers = (_signed_text(one.quantity * made), _signed_text(one.price * made))
        ink.line(f"  {left(cut(terminal(one.title), 31), 31)} {right(numbers[0], 14)}{right(numbers[1], 18)}")
        ink.wrapped(one.basis, "      ", style="dim")
    for remark in found.remarks:
        ink.wrapped(remark, "note: ", "      ")
    ink.line()
    ink.wrapped("The parts are exact and add up to the difference: Shapley values of quantity, price and yield.")


def _row(ink: Ink, name: str, one: str, whole: str) -> None:
    ink.line(f"{left(name, 34)}{right(one, 14)}{right(whole, 18)}")


def _signed(value: Decimal) -> str:
    text = f"{value:f}"
    return text if text.startswith("-") else f"+{text}"


def _signed_text(value: Fraction) -> str:
    sign = "-" if value < 0 else "+"
    return f"{sign}{shown(abs(value), 2, 2)}"
