"""Where a lot went, through premixes."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from typing import Annotated, Final, TextIO

from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    Heading,
    Paragraph,
    Report,
    Row,
    TableBlock,
    Verdict,
)  # fmt: skip
from formula_vcs.reports.document.data import Exact, SchemaRule
from formula_vcs.reports.review_document import ARROW
from formula_vcs.trace.recall import LotTaken, Recall
from formula_vcs.words.escape import spreadsheet
from formula_vcs.words.numbers import exact_text, rounded, shown


def document(found: Recall) -> Document:
    """Say where it went, what the record does not tell, and all batches by date."""
    title = _title(found)
    doubts = tuple(Paragraph(words, "warn", indent=2, hang=2) for words in _doubts(found))
    verdict = Verdict((Paragraph(_verdict(found), indent=2), *doubts), "warn" if doubts else "")
    return Document(title, (Heading(title), *_note(found), verdict, *_batches(found)))


def _title(found: Recall) -> str:
    """Name the lot: its id, of what, the supplier's number."""
    lot = found.on_file
    if lot is not None:
        number = f", supplier's number {lot.number}" if lot.number else ""
        return f"Lot {found.lot} of {lot.ingredient or 'nothing named'}{number}"
    if found.batch is not None:
        made = "no date" if found.batch.date is None else f"made on {found.batch.date}"
        return f"Lot {found.lot}, a batch of {found.batch.recipe or 'nothing named'}, {made}"
    return f"Lot {found.lot}, of which nothing is on file"


def _note(found: Recall) -> Iterator[Block]:
    note = None if found.on_file is None else found.on_file.get("note")
    if note:
        yield Paragraph(note, indent=2)


def _verdict(found: Recall) -> str:
    """Say in a line where it went."""
    if not found.taken:
        return "No batch on record took it."
    finished = found.finished
    known = len(finished) - len(found.unknown_packs)
    packs = "1 pack" if found.packs == 1 else f"{found.packs:,} packs"
    if finished and not known:
        packs = "packs not known"
    between = len(found.taken) - len(finished)
    premixes = f"{_counted(between)} of premix"
    if not finished:
        return f"It is in {premixes}, and in no batch to sell."
    return f"It is in {_counted(len(finished))}, {packs}{f'; and in {premixes}' if between else ''}."


def _counted(count: int) -> str:
    return "1 batch" if count == 1 else f"{count} batches"


def _doubts(found: Recall) -> Iterator[str]:
    """Say what the record does not tell."""
    if found.unknown_packs:
        yield f"Packs not known of: {', '.join(found.unknown_packs)}. The sum leaves them out."
    if found.in_stock:
        yield f"Premix that no batch took up, so it may stand in the store: {', '.join(found.in_stock)}."
    if found.unnamed:
        yield f"No lot is named for what they weighed of this material, so it may be in: {', '.join(found.unnamed)}."
    if found.open_batches:
        yield f"Not closed, so it may change: {', '.join(found.open_batches)}."
    if found.unread:
        yield f"Not readable, so not looked into: {', '.join(found.unread)}."
    if found.circle:
        yield "Batches name each other as lots in a circle; each is listed once."


def _batches(found: Recall) -> Iterator[Block]:
    if found.taken:
        yield GAP
        yield TableBlock(
            (
                Column("batch", most=26), Column("date", most=26), Column("recipe", most=26), Column("size", most=26),
                Column("packs", "right", most=26),
            ),
            tuple(map(_row, found.taken)),
            "Batches that hold some of the lot, by date",
            below="of the lot",
        )  # fmt: skip


def _row(item: LotTaken) -> Row:
    batch = item.batch
    date = "no date" if batch.date is None else str(batch.date)
    below = "; ".join(filter(None, (_mass(item), _ways(item))))
    cells = (batch.id, date, batch.recipe or "", str(batch.size or ""), _packs(item))
    return Row(cells, (Paragraph(below, indent=6),))


def _packs(item: LotTaken) -> str:
    """Give the packs of a batch."""
    if item.premix:
        return "premix" if item.taken_up else "premix, not used"
    return "packs not known" if item.batch.packs is None else f"{item.batch.packs:,} packs"


def _mass(item: LotTaken) -> str:
    """Give how much of the lot is in a batch."""
    return "mass not known" if item.mass is None else f"{shown(item.mass * 1000, 1, 1)} g of it"


def _ways(item: LotTaken) -> str:
    """Say by which premix lots it came; empty where it was weighed in itself."""
    chains = [f" {ARROW} ".join(way) for way in item.ways if way]
    straight = ["weighed in"] if () in item.ways and chains else []
    return "" if not chains else f"by way of {'; '.join(chains + straight)}"


@dataclass(frozen=True, slots=True)
class TakenRecord:
    """A batch that holds some of the lot, with the premix lots that it came by."""

    batch: str
    recipe: str | None
    date: str | None
    size: str | None
    premix: bool
    packs: int | None
    closed: str | None
    kg: Exact | None
    ways: Annotated[tuple[tuple[str, ...], ...], SchemaRule(at_least_items=1)]


@dataclass(frozen=True, slots=True)
class LotUsesRecord:
    """Where a lot went, through premixes."""

    asked: str
    lot: str
    ingredient: str | None
    number: str | None
    status: str | None
    made_by_batch: str | None
    batches: tuple[TakenRecord, ...]
    packs: int
    unknown_packs: tuple[str, ...]
    in_stock: Annotated[tuple[str, ...], SchemaRule("Premix batches that no batch took up")]
    unnamed: Annotated[tuple[str, ...], SchemaRule("Batches that weighed some of the material and name no lot of it")]
    open: tuple[str, ...]
    unread: tuple[str, ...]
    circle: bool


def record(found: Recall) -> LotUsesRecord:
    """Give all batches by date as data."""
    lot = found.on_file
    return LotUsesRecord(
        found.asked, found.lot, None if lot is None else lot.ingredient, None if lot is None else lot.number,
        None if lot is None else lot.status, None if found.batch is None or lot is not None else found.batch.id,
        tuple(map(_taken, found.taken)), found.packs, tuple(found.unknown_packs), tuple(found.in_stock),
        tuple(found.unnamed), tuple(found.open_batches), tuple(found.unread), found.circle,
    )  # fmt: skip


def _taken(item: LotTaken) -> TakenRecord:
    batch = item.batch
    return TakenRecord(
        batch.id, batch.recipe, None if batch.date is None else str(batch.date),
        None if batch.size is None else str(batch.size), item.premix, batch.packs,
        None if batch.closed is None else str(batch.closed), None if item.mass is None else exact_text(item.mass),
        item.ways,
    )  # fmt: skip


def write_csv(found: Recall, out: TextIO) -> None:
    """Write one batch a row, for a spreadsheet: a cell that would be a formula there is made text."""
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(("lot", "batch", "date", "recipe", "size", "premix", "packs", "closed", "kg_of_the_lot", "by_way_of"))
    for item in found.taken:
        batch = item.batch
        way = "; ".join(" > ".join(way) for way in item.ways if way)
        mass = "" if item.mass is None else f"{rounded(item.mass, 6):f}"
        values = (
            found.lot, batch.id, batch.date or "", batch.recipe or "", batch.size or "",
            "yes" if item.premix else "no", "" if batch.packs is None else batch.packs, batch.closed or "", mass, way,
        )  # fmt: skip
        rows.writerow([spreadsheet(str(value)) for value in values])


REPORT: Final = Report("uses --lot", "lot_uses", document, record)
