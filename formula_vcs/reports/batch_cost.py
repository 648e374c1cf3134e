"""The cost of a batch at its lots and masses, against standard."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.batches.batch_cost import NAMES, BatchCost, Priced
from formula_vcs.figures.pack_cost import PackCosting
from formula_vcs.model.batch import Batch
from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    Heading,
    Items,
    ListEntry,
    Paragraph,
    Report,
    Row,
    TableBlock,
)  # fmt: skip
from formula_vcs.reports.document.data import ABSENT, Absence, Exact
from formula_vcs.words.numbers import apportion, exact_text, shown

_WHY: Final = {
    "quantity": "more or less was weighed than the target",
    "price": "lots cost more or less than the price list",
    "yield": "more or less came out than expected",
}
_EXACT: Final = "The parts are exact and add up to the difference: Shapley values of quantity, price and yield."


class CostShown(NamedTuple):
    """A batch and what it cost."""

    batch: Batch
    found: BatchCost


def document(subject: CostShown) -> Document:
    """Say the cost, the effects, and the charges that moved it."""
    batch, found = subject
    title = f"Cost of batch {batch.id} ({batch.recipe})"
    if found.missing:
        missing = (Paragraph(item, indent=2, hang=4) for item in found.missing)
        return Document(title, (Heading(title), Paragraph("it cannot be worked out:"), *missing))
    came = f"{shown(found.made, 0, 3)} kg came out; {shown(found.expected, 0, 3)} kg were expected"
    return Document(
        title,
        (
            Heading(title), Paragraph(came), GAP, _effects(found), *_packs(batch, found), GAP,
            Items(tuple(ListEntry(f"{name}: {_WHY[name]}") for name in NAMES), hang=4),
            *_moved(found), *(Paragraph(f"note: {remark}", hang=6) for remark in found.remarks), GAP,
            Paragraph(_EXACT),
        ),
    )  # fmt: skip


def _effects(found: BatchCost) -> TableBlock:
    money = found.currency or "?"
    # the printed effects add up to the printed difference
    per_kg = apportion([found.standard, *(found.effects[name] for name in NAMES)], 4)
    whole = apportion([found.standard * found.made, *(found.effects[name] * found.made for name in NAMES)], 2)
    effects = zip(NAMES, per_kg[1:], whole[1:], strict=True)
    return TableBlock(
        (
            Column("", least=34),
            Column(f"{money}/kg", "right", least=14, lead=""),
            Column(f"{money} a batch", "right", least=18, lead=""),
        ),
        (
            Row(("standard", f"{per_kg[0]:f}", f"{whole[0]:f}")),
            *(Row((f"  {name}", _signed(one), _signed(all_of_it))) for name, one, all_of_it in effects),
            Row(("actual", f"{sum(per_kg):f}", f"{sum(whole):f}")),
        ),
        "From the standard cost to the actual one",
        heads=True,
        heads_look="",
        indent=0,
    )


def _packs(batch: Batch, found: BatchCost) -> Iterator[Block]:
    if batch.packs:
        each = found.actual * found.made / batch.packs
        yield Paragraph(f"{batch.packs:,} packs: {shown(each, 4, 4)} {found.currency or '?'} of material in each")
        if found.packaging is not None:
            yield from _packaging(found.packaging, each, found.currency or "?")


def _packaging(packed: PackCosting, each: Fraction, money: str) -> Iterator[Block]:
    """Say what the pieces of a pack cost, and what a pack costs with them."""
    for item in packed.missing:
        yield Paragraph(f"packaging is not known: {item}", indent=2, hang=4)
    if not packed.missing:
        pieces = ", ".join(f"{one.item.id} {shown(one.cost, 4, 4)}" for one in packed.pieces)
        yield Paragraph(f"{shown(packed.total, 4, 4)} {money} of packaging in each ({pieces})", indent=2, hang=4)
        yield Paragraph(f"{shown(each + packed.total, 4, 4)} {money} a pack", indent=2, hang=4)
    for remark in packed.remarks:
        yield Paragraph(f"note: {remark}", indent=2, hang=6)


def _moved(found: BatchCost) -> Iterator[Block]:
    moved = [one for one in found.charges if one.quantity or one.price]
    if not moved:
        return
    yield GAP
    yield TableBlock(
        (
            Column("What moved it", most=33, least=34),
            Column("quantity", "right", least=14, lead=""),
            Column("price", "right", least=18, lead=""),
        ),
        tuple(_charge(one, found.made) for one in sorted(moved, key=lambda one: -abs(one.quantity + one.price))),
        "Charges that moved the cost, most first",
        below="price of",
        heads=True,
        indent=0,
    )


def _charge(one: Priced, made: Fraction) -> Row:
    numbers = (_signed_text(one.quantity * made), _signed_text(one.price * made))
    return Row((f"  {one.title}", *numbers), (Paragraph(one.basis, "dim", indent=6),))


def _signed(value: Decimal) -> str:
    text = f"{value:f}"
    return text if text.startswith("-") else f"+{text}"


def _signed_text(value: Fraction) -> str:
    sign = "-" if value < 0 else "+"
    return f"{sign}{shown(abs(value), 2, 2)}"


@dataclass(frozen=True, slots=True)
class CostEffects:
    """What each effect does to the cost; empty where something is missing."""

    quantity: Exact | Absence = ABSENT
    price: Exact | Absence = ABSENT
    yield_: Exact | Absence = ABSENT


@dataclass(frozen=True, slots=True)
class CostCharge:
    """One charge: masses, prices for 1 kg, and what more or less of it, and another price, did to the batch."""

    charge: str
    target_kg: Exact
    weighed_kg: Exact
    standard_price: Exact
    actual_price: Exact
    price_of: str
    quantity: Exact
    price: Exact


@dataclass(frozen=True, slots=True)
class CostPiece:
    """One kind of piece: how many are bought for one good pack, and what they cost."""

    item: str
    needed: Exact
    cost: Exact


@dataclass(frozen=True, slots=True)
class CostPackaging:
    """The packaging of one pack at the prices of the day; ``per_pack`` is null where something is missing."""

    per_pack: Exact | None
    pieces: tuple[CostPiece, ...]
    missing: tuple[str, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CostRecord:
    """What a batch cost at its lots and masses, against standard.

    The effects add up to the difference exactly.  Null where something is missing.
    """

    batch: str
    recipe: str | None
    currency: str
    expected_kg: Exact
    made_kg: Exact | None
    standard_per_kg: Exact | None
    actual_per_kg: Exact | None
    difference_per_kg: Exact | None
    effects_per_kg: CostEffects
    standard: Exact | None
    actual: Exact | None
    difference: Exact | None
    effects: CostEffects
    packs: int | None
    charges: tuple[CostCharge, ...]
    packaging: CostPackaging | None
    missing: tuple[str, ...]
    remarks: tuple[str, ...]


def record(subject: CostShown) -> CostRecord:
    """Give the cost as data, exact: money for 1 kg that came out, and for the batch."""
    batch, found = subject
    made = None if found.missing else found.made
    whole = Fraction(1) if made is None else made

    def known(value: Fraction, times: Fraction | None = None) -> str | None:
        return None if made is None else exact_text(value if times is None else value * times)

    return CostRecord(
        batch.id, batch.recipe, found.currency, exact_text(found.expected), known(found.made), known(found.standard),
        known(found.actual), known(found.difference), _effects_record(found, Fraction(1)),
        known(found.standard, made), known(found.actual, made), known(found.difference, made),
        _effects_record(found, whole), batch.packs,
        tuple(
            CostCharge(
                one.key, exact_text(one.target), exact_text(one.weighed), exact_text(one.standard),
                exact_text(one.actual), one.basis, exact_text(one.quantity * found.made),
                exact_text(one.price * found.made),
            )
            for one in found.charges
        ),
        _packaging_record(found.packaging), found.missing, found.remarks,
    )  # fmt: skip


def _packaging_record(packed: PackCosting | None) -> CostPackaging | None:
    if packed is None:
        return None
    pieces = (CostPiece(one.item.id, exact_text(one.needed), exact_text(one.cost)) for one in packed.pieces)
    total = None if packed.missing else exact_text(packed.total)
    return CostPackaging(total, tuple(pieces), packed.missing, packed.remarks)


def _effects_record(found: BatchCost, times: Fraction) -> CostEffects:
    return CostEffects(*(
        exact_text(found.effects[name] * times) if name in found.effects else ABSENT for name in NAMES
    ))  # fmt: skip


REPORT: Final = Report("batch cost", "batch-cost", document, record)
