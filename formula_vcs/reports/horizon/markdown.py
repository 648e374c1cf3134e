"""What will stop complying, as markdown."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TextIO

from formula_vcs.reports.horizon.text import RESTS, Ahead
from formula_vcs.reports.table_markdown import Page


def write(found: Sequence[Ahead], *, until: datetime.date, recipes: int, out: TextIO) -> None:
    """Write one table, the earliest day first."""
    page = Page(out)
    page.heading(2, f"What stops complying up to {until}")
    page.line(f"{recipes} recipes looked at.")
    page.line()
    if found:
        page.table(
            ("from", "sold until", "recipe", "severity", "finding", "source"),
            (
                (day.isoformat(), sold.isoformat() if sold else "", finding.recipe or "", finding.severity,
                 finding.message, finding.source)
                for day, finding, sold in found
            ),
        )  # fmt: skip
        page.paragraph(RESTS)
    else:
        page.paragraph("Nothing.")
