"""A spreadsheet as it was read: cells with their values and what else they show, no meaning yet."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cached_property
from typing import Final

from formula_vcs.model.values import dataclass, field

Value = str | Decimal | bool | datetime.date | datetime.time | None

MOST_ROWS: Final = 50_000
"""Rows of one sheet.  Our choice: a list of raw materials has some thousands."""
MOST_COLUMNS: Final = 1_000
MOST_CELLS: Final = 400_000
"""Filled cells of one file, and cells that merged areas may cover.  Our choice."""
MOST_SHEETS: Final = 250
MOST_BYTES: Final = 100 * 1024 * 1024
"""Bytes of a file, packed and unpacked.  Our choice."""


class SheetTrouble(ValueError):
    """A file that cannot be read, or may not be; nothing of it was taken.  The message names sheet and cell."""


@dataclass(frozen=True, slots=True)
class SheetCell:
    """One cell, its row and column from 1.

    ``value`` of a cell shown as percent is the fraction that the file holds: 0.05 for 5 %.  ``trouble`` says why a cell
    that shows something has no value: a formula that was never worked out, an error.
    """

    row: int
    column: int
    value: Value = None
    percent: bool = False
    currency: str = ""
    fill: str = ""
    struck: bool = False
    trouble: str = ""
    rows: int = 1
    columns: int = 1

    @property
    def text(self) -> str:
        """Give a text in one line with single blanks; a number in its digits; nothing where there is none."""
        if isinstance(self.value, str):
            return " ".join(self.value.split())
        if isinstance(self.value, Decimal):
            return f"{self.value:f}"
        return "" if self.value is None else str(self.value)

    @property
    def lines(self) -> str:
        """Give a text with ";" where its lines break, a number as `text` does."""
        if not isinstance(self.value, str):
            return self.text
        return "; ".join(line for line in (" ".join(part.split()) for part in self.value.splitlines()) if line)

    @property
    def empty(self) -> bool:
        """Say whether the cell shows nothing."""
        return not self.trouble and not self.text

    @property
    def place(self) -> str:
        """Name the cell as a spreadsheet does: ``C7``."""
        return f"{column_name(self.column)}{self.row}"


@dataclass(frozen=True)
class Grid:
    """One sheet: its cells by row and column, and which rows and columns are hidden."""

    name: str
    cells: Mapping[tuple[int, int], SheetCell]
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    hidden: bool = False

    @cached_property
    def rows(self) -> Mapping[int, tuple[SheetCell, ...]]:
        """Give the cells that show something, row by row, from left to right."""
        found: dict[int, list[SheetCell]] = {}
        for key in sorted(self.cells):
            if not self.cells[key].empty:
                found.setdefault(key[0], []).append(self.cells[key])
        return {row: tuple(cells) for row, cells in found.items()}

    @cached_property
    def covered(self) -> Mapping[tuple[int, int], SheetCell]:
        """Give the merged cell that covers a place, for every place but its own first."""
        found: dict[tuple[int, int], SheetCell] = {}
        for cell in self.cells.values():
            if cell.rows * cell.columns > 1:
                for row in range(cell.row, cell.row + cell.rows):
                    for column in range(cell.column, cell.column + cell.columns):
                        found[row, column] = cell
                found.pop((cell.row, cell.column))
        return found

    def at(self, row: int, column: int) -> SheetCell:
        """Give a cell, an empty one where there is none."""
        return self.cells.get((row, column)) or SheetCell(row, column)


@dataclass(frozen=True)
class Book:
    """A file of sheets; ``notes`` say what was seen and left alone: macros, links to other files."""

    name: str
    grids: tuple[Grid, ...]
    notes: tuple[str, ...] = field(default=())

    def __iter__(self) -> Iterator[Grid]:
        """Go through the sheets."""
        return iter(self.grids)


def column_name(column: int) -> str:
    """Name a column by its letters.

    >>> column_name(1), column_name(28)
    ('A', 'AB')
    """
    letters = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def column_number(letters: str) -> int:
    """Give the number of a column from its letters.

    >>> column_number("AB")
    28
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def exact(number: float) -> Decimal:
    """Give a spreadsheet's binary number as the decimal that was typed, 15 digits as its programs show at most.

    Microsoft, "Excel specifications and limits": number precision 15 digits.

    >>> exact(0.1 + 0.2), exact(5.0)
    (Decimal('0.3'), Decimal('5'))
    """
    return Decimal(format(number, ".15g"))


def fraction_of_percent(value: Decimal) -> Decimal:
    """Give the percentage that a fraction is shown as: 0.05 is 5."""
    return value.scaleb(2)


def check_size(name: str, rows: int, columns: int, cells: int) -> None:
    """Refuse a sheet of a size that no list of a lab has.

    :raises SheetTrouble: too many rows, columns or cells.
    """
    if rows > MOST_ROWS:
        raise SheetTrouble(f"sheet '{name[:40]}' goes down to row {rows:,}; at most {MOST_ROWS:,} rows are read")
    if columns > MOST_COLUMNS:
        raise SheetTrouble(
            f"sheet '{name[:40]}' goes to column {column_name(columns)}; at most {MOST_COLUMNS:,} columns are read"
        )
    if cells > MOST_CELLS:
        raise SheetTrouble(f"sheet '{name[:40]}' has over {MOST_CELLS:,} filled cells; that is no list of a lab")
