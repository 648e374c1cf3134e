"""The sentences of where a lot went, the same in every format."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.reports.review_document import ARROW
from formula_vcs.trace.recall import LotTaken, Recall
from formula_vcs.words.numbers import shown


def title(found: Recall) -> str:
    """Name the lot: its id, of what, the supplier's number."""
    lot = found.on_file
    if lot is not None:
        number = f", supplier's number {lot.number}" if lot.number else ""
        return f"Lot {found.lot} of {lot.ingredient or 'nothing named'}{number}"
    if found.batch is not None:
        made = "no date" if found.batch.date is None else f"made on {found.batch.date}"
        return f"Lot {found.lot}, a batch of {found.batch.recipe or 'nothing named'}, {made}"
    return f"Lot {found.lot}, of which nothing is on file"


def verdict(found: Recall) -> str:
    """Say in a line where it went."""
    if not found.taken:
        return "No batch on record took it."
    finished = found.finished
    known = len(finished) - len(found.unknown_packs)
    packs = "1 pack" if found.packs == 1 else f"{found.packs:,} packs"
    if finished and not known:
        packs = "packs not known"
    between = len(found.taken) - len(finished)
    premixes = f"{batches(between)} of premix"
    if not finished:
        return f"It is in {premixes}, and in no batch to sell."
    return f"It is in {batches(len(finished))}, {packs}{f'; and in {premixes}' if between else ''}."


def batches(count: int) -> str:
    """Count batches."""
    return "1 batch" if count == 1 else f"{count} batches"


def doubts(found: Recall) -> Iterator[str]:
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


def date(item: LotTaken) -> str:
    """Give the day of a batch."""
    return "no date" if item.batch.date is None else str(item.batch.date)


def packs(item: LotTaken) -> str:
    """Give the packs of a batch."""
    if item.premix:
        return "premix" if item.taken_up else "premix, not used"
    return "packs not known" if item.batch.packs is None else f"{item.batch.packs:,} packs"


def mass(item: LotTaken) -> str:
    """Give how much of the lot is in a batch."""
    return "mass not known" if item.mass is None else f"{shown(item.mass * 1000, 1, 1)} g of it"


def ways(item: LotTaken) -> str:
    """Say by which premix lots it came; empty where it was weighed in itself."""
    chains = [f" {ARROW} ".join(way) for way in item.ways if way]
    straight = ["weighed in"] if () in item.ways and chains else []
    return "" if not chains else f"by way of {'; '.join(chains + straight)}"
