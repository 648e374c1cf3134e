"""Where a lot went, as CSV for a spreadsheet: a cell that would be a formula there is made text."""

from __future__ import annotations

import csv
from typing import TextIO

from formula_vcs.trace.recall import Recall
from formula_vcs.words.escape import spreadsheet
from formula_vcs.words.numbers import rounded


def write(found: Recall, *, out: TextIO) -> None:
    """Write one batch a row, by date."""
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
