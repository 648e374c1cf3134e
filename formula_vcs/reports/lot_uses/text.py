"""Where a lot went, for a terminal."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports.lot_uses import words
from formula_vcs.reports.terminal import Ink, columns, cut, left, right
from formula_vcs.trace.recall import Recall
from formula_vcs.words.escape import terminal


def write(found: Recall, *, out: TextIO) -> None:
    """Write all batches by date."""
    ink = Ink(out)
    ink.wrapped(words.title(found), style="strong")
    note = None if found.on_file is None else found.on_file.get("note")
    if note:
        ink.wrapped(note, "  ")
    ink.wrapped(words.verdict(found), "  ")
    for line in words.doubts(found):
        ink.wrapped(line, "  ", "    ", "warn")
    if found.taken:
        ink.line()
    rows = [
        (item.batch.id, words.date(item), item.batch.recipe or "", str(item.batch.size or ""), words.packs(item))
        for item in found.taken
    ]
    widths = [min(max((columns(terminal(row[i])) for row in rows), default=0), 26) for i in range(5)]
    for row, item in zip(rows, found.taken, strict=True):
        parts = [cut(terminal(text), width) for text, width in zip(row, widths, strict=True)]
        cells = [left(part, width) for part, width in zip(parts[:4], widths, strict=False)]
        ink.line(f"  {'  '.join([*cells, right(parts[4], widths[4])])}".rstrip())
        ink.wrapped("; ".join(filter(None, (words.mass(item), words.ways(item)))), "      ")
