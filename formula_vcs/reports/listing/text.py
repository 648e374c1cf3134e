"""What is in a workspace, for a terminal: a heading a kind, a line a file."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Final, TextIO

from formula_vcs.reports.terminal import Ink, columns, cut, left, width_of
from formula_vcs.review.listed_files import ListedFile
from formula_vcs.words.escape import terminal

_HEADINGS: Final = {
    "recipe": "Recipes", "premix": "Premixes", "ingredient": "Ingredients", "equipment": "Equipment", "lot": "Lots",
    "batch": "Batches", "proof": "Evidence", "rule": "House rules",
}  # fmt: skip
_ID: Final = 24
_TITLE: Final = 34


def write(found: Sequence[ListedFile], *, out: TextIO) -> None:
    """Write the lines; several kinds have a heading each."""
    ink = Ink(out)
    groups = [(kind, list(files)) for kind, files in groupby(found, key=lambda one: one.kind)]
    for number, (kind, files) in enumerate(groups):
        if number:
            ink.line()
        if len(groups) > 1:
            ink.line(ink.paint(f"{_HEADINGS[kind]}: {len(files)}", "strong"))
        _lines(ink, files, width_of(out))
    if not found:
        ink.line("nothing fits")


def _lines(ink: Ink, files: Sequence[ListedFile], whole: int) -> None:
    width = min(max(columns(terminal(one.id)) for one in files), _ID)
    cells = [[terminal(text) for _, text in one.columns] for one in files]
    widths = [min(max(columns(row[position]) for row in cells), 16) for position in range(len(cells[0]))]
    room = whole - width - sum(size + 2 for size in widths if size) - 2
    title = min(max(columns(terminal(one.title)) for one in files), max(room, 10), _TITLE)
    for one, row in zip(files, cells, strict=True):
        parts = [left(cut(terminal(one.id), width), width), left(cut(terminal(one.title), title), title)]
        parts += [left(cut(text, size), size) for text, size in zip(row, widths, strict=True) if size]
        ink.line("  ".join(parts).rstrip())
