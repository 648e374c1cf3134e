"""Where a lot went, as markdown."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports.lot_uses import words
from formula_vcs.reports.table_markdown import Page
from formula_vcs.trace.recall import Recall


def write(found: Recall, *, out: TextIO) -> None:
    """Write all batches by date."""
    page = Page(out)
    page.heading(2, words.title(found))
    page.paragraph(words.verdict(found))
    for line in words.doubts(found):
        page.paragraph(line)
    if found.taken:
        page.table(
            ("batch", "date", "recipe", "size", "packs", "of the lot", "by way of"),
            (
                (
                    item.batch.id,
                    words.date(item),
                    item.batch.recipe or "",
                    str(item.batch.size or ""),
                    words.packs(item),
                    words.mass(item),
                    words.ways(item).removeprefix("by way of "),
                )
                for item in found.taken
            ),
        )
