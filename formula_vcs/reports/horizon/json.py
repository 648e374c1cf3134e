"""What will stop complying, as JSON, by the schema horizon.json."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TextIO

from formula_vcs.reports.check.json import as_data, dump
from formula_vcs.reports.horizon.text import Ahead


def write(found: Sequence[Ahead], *, until: datetime.date, recipes: int, out: TextIO) -> None:
    """Write every turn with its day."""
    turns = [
        {"from": day.isoformat(), "sold_until": None if sold is None else sold.isoformat(), "finding": as_data(finding)}
        for day, finding, sold in found
    ]
    dump({"until": until.isoformat(), "recipes": recipes, "turns": turns}, out)
