"""Where a lot went, as JSON by the schema lot_uses.json."""

from __future__ import annotations

from typing import Any, TextIO

from formula_vcs.reports.check.json import dump
from formula_vcs.trace.recall import LotTaken, Recall
from formula_vcs.words.numbers import exact_text


def write(found: Recall, *, out: TextIO) -> None:
    """Write all batches by date."""
    lot = found.on_file
    dump(
        {
            "asked": found.asked,
            "lot": found.lot,
            "ingredient": None if lot is None else lot.ingredient,
            "number": None if lot is None else lot.number,
            "status": None if lot is None else lot.status,
            "made_by_batch": None if found.batch is None or lot is not None else found.batch.id,
            "batches": [_taken(item) for item in found.taken],
            "packs": found.packs,
            "unknown_packs": list(found.unknown_packs),
            "in_stock": list(found.in_stock),
            "unnamed": list(found.unnamed),
            "open": list(found.open_batches),
            "unread": list(found.unread),
            "circle": found.circle,
        },
        out,
    )


def _taken(item: LotTaken) -> dict[str, Any]:
    batch = item.batch
    return {
        "batch": batch.id,
        "recipe": batch.recipe,
        "date": None if batch.date is None else str(batch.date),
        "size": None if batch.size is None else str(batch.size),
        "premix": item.premix,
        "packs": batch.packs,
        "closed": None if batch.closed is None else str(batch.closed),
        "kg": None if item.mass is None else exact_text(item.mass),
        "ways": [list(way) for way in item.ways],
    }
