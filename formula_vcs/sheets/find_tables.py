"""Find the tables on a sheet: heads by their words, what stands above and below, several under or beside each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Final

from formula_vcs.model.values import dataclass, replace
from formula_vcs.sheets.cell_values import is_amount, said
from formula_vcs.sheets.grid import Grid, SheetCell
from formula_vcs.sheets.header_words import (
    NUMBERS,
    ColumnHead,
    fold,
    header_of,
    is_known,
    is_total,
    unit_alone,
    unit_in,
)

SUBJECTS: Final = ("id", "name", "inci", "code", "allergen")
"""Roles that say what a row is about, the surest first."""
_LOOK_BELOW: Final = 6


@dataclass(frozen=True, slots=True)
class TableColumn:
    """One column of a table; ``role`` is empty where nothing of its head is known."""

    number: int
    head: str
    role: str
    unit: str = ""


@dataclass(frozen=True)
class TableLine:
    """One row of a table: its cells by role, and all of them."""

    row: int
    by_role: Mapping[str, SheetCell]
    cells: tuple[SheetCell, ...]

    def cell(self, role: str) -> SheetCell:
        """Give the cell of a role, an empty one where there is none."""
        return self.by_role.get(role) or SheetCell(self.row, 1)

    def text(self, role: str) -> str:
        """Give the words in the cell of a role."""
        return self.cell(role).text

    @cached_property
    def subject(self) -> SheetCell:
        """Give the cell that says what the row is about, an empty one where none does."""
        found = (self.cell(role) for role in ("name", "inci", "id", "code", "allergen"))
        return next((cell for cell in found if cell.text), SheetCell(self.row, 1))

    @property
    def total(self) -> bool:
        """Say whether the row is a sum; one with an id is a material, whatever it is called."""
        return not self.text("id") and is_total(self.subject.text)


@dataclass(frozen=True)
class FoundTable:
    """One table: its columns, its lines, and what stands above its head and below its last number."""

    grid: Grid
    head_row: int
    columns: tuple[TableColumn, ...]
    lines: tuple[TableLine, ...]
    above: tuple[SheetCell, ...]
    below: tuple[SheetCell, ...]

    @property
    def roles(self) -> frozenset[str]:
        """Give the roles that its heads name."""
        return frozenset(column.role for column in self.columns if column.role)

    @property
    def heads(self) -> str:
        """Give its heads in one line: what the table is known by the next time."""
        return "; ".join(fold(column.head) for column in self.columns)

    def column(self, role: str) -> TableColumn | None:
        """Give the first column of a role."""
        return next((column for column in self.columns if column.role == role), None)

    def cells(self, role: str) -> list[SheetCell]:
        """Give the cells of a role, from top to bottom."""
        return [line.cell(role) for line in self.lines]

    def unit(self, role: str) -> str:
        """Give the unit that the head of a role states."""
        column = self.column(role)
        return "" if column is None else column.unit

    def renamed(self, roles: Mapping[str, str]) -> FoundTable:
        """Give the table with other roles of its columns, by their folded heads or their letters."""
        columns = tuple(
            replace(column, role=roles.get(fold(column.head), column.role)) if fold(column.head) in roles else column
            for column in self.columns
        )
        given = set(roles.values())
        columns = tuple(
            replace(column, role="") if column.role in given and fold(column.head) not in roles else column
            for column in columns
        )
        return replace(self, columns=columns, lines=_lines(self.grid, columns, [line.row for line in self.lines]))

    def at(self, cell: SheetCell) -> str:
        """Name a cell with its sheet."""
        return f"{self.grid.name}!{cell.place}"


def tables_of(grid: Grid) -> list[FoundTable]:
    """Find the tables of a sheet, from top to bottom and from left to right."""
    heads = [row for row in grid.rows if _is_head(grid, row)]
    found: list[FoundTable] = []
    start = 0
    for number, row in enumerate(heads):
        end = heads[number + 1] if number + 1 < len(heads) else max(grid.rows) + 1
        rows = [other for other in grid.rows if row < other < end]
        units = _units(grid, rows)
        if units:
            rows = rows[1:]
        last_used = row
        for columns in _groups(grid, row, units):
            table = _table(grid, row, columns, rows, start)
            found.append(table)
            last_used = max(last_used, *(line.row for line in table.lines), row)
        start = last_used
    return found


def _is_head(grid: Grid, row: int) -> bool:
    cells = [cell for cell in grid.rows[row] if isinstance(cell.value, str)]
    known = [header.role for cell in cells if (header := header_of(cell.text)) is not None]
    roles = set(known)
    if len(roles) < 2 and not (len(roles) == 1 and _matrix_below(grid, row)):
        return False
    if not roles & {"name", "inci", "id", "code", "allergen"}:
        return False
    if len(cells) < len(grid.rows[row]) and not roles & NUMBERS:
        return False
    wide = len(known) * 2 > len(cells)
    if len(known) == len(cells) and roles & {"supplier", "code", "function"}:
        return True
    return (bool(roles & (NUMBERS | {"cas"})) and wide) or len(roles) >= 3 or _matrix_below(grid, row)


def _matrix_below(grid: Grid, row: int) -> bool:
    """Say whether columns whose heads are nobody's words hold amounts below: formulas beside each other."""
    unknown = [cell for cell in grid.rows[row] if header_of(cell.text) is None]
    below = [other for other in grid.rows if other > row][:_LOOK_BELOW]
    subject = any(header_of(cell.text) is not None for cell in grid.rows[row][:2])
    numbers = sum(is_amount(grid.at(other, cell.column)) for other in below for cell in unknown)
    return subject and bool(unknown) and numbers >= max(min(len(below), 3), 2)


def _units(grid: Grid, rows: Sequence[int]) -> dict[int, str]:
    """Give the units that a row right below the heads states, by column; empty where it is a row of data."""
    if not rows:
        return {}
    cells = grid.rows[rows[0]]
    units = {cell.column: unit_alone(cell.text) for cell in cells if isinstance(cell.value, str)}
    return units if len(units) == len(cells) and all(units.values()) else {}


def _groups(grid: Grid, row: int, units: Mapping[int, str]) -> list[tuple[TableColumn, ...]]:
    """Split heads into tables that stand beside each other: each begins where what rows are about comes again."""
    columns = []
    for cell in grid.rows[row]:
        if cell.column in grid.hidden_columns:
            continue
        header = header_of(cell.text) or ColumnHead("", unit_in(cell.text))
        unit = header.unit if header.unit not in ("", "%") else units.get(cell.column, header.unit)
        role = "pct" if header.role == "amount" and "%" in unit else header.role
        columns.append(TableColumn(cell.column, cell.text, role, unit))
    groups: list[list[TableColumn]] = [[]]
    for column in _without_notes(grid, row, columns):
        if column.role == "name" and any(other.role == "name" for other in groups[-1]) and _gap(groups[-1], column):
            groups.append([])
        groups[-1].append(column)
    return [tuple(group) for group in groups]


def _without_notes(grid: Grid, row: int, columns: list[TableColumn]) -> list[TableColumn]:
    """Leave out what stands beside a table: behind an empty column, of no known head, and with no number below."""
    found: list[TableColumn] = []
    for column in columns:
        beside = bool(found) and column.number > found[-1].number + 1
        below = [grid.at(other, column.number) for other in grid.rows if other > row]
        if column.role or not beside or any(map(is_amount, below)):
            found.append(column)
    return found


def _gap(group: Sequence[TableColumn], column: TableColumn) -> bool:
    """Say whether a second table may begin at a column: the one before is whole, with a number of its own."""
    return any(other.role in NUMBERS for other in group) and column.number > group[-1].number


def _table(grid: Grid, row: int, columns: tuple[TableColumn, ...], rows: Sequence[int], start: int) -> FoundTable:
    left, right = columns[0].number, columns[-1].number
    inside = [other for other in rows if any(left <= cell.column <= right for cell in grid.rows[other])]
    lines = _lines(grid, columns, inside)
    last = max((line.row for line in lines if _counts(line, columns)), default=row)
    above = [cell for other in grid.rows if start < other < row for cell in grid.rows[other]]
    below = [cell for other in rows if other > last for cell in grid.rows[other]]
    return FoundTable(
        grid,
        row,
        columns,
        tuple(line for line in lines if line.row <= last),
        tuple(_near(above, left, right)),
        tuple(_near(below, left, right)),
    )


def _near(cells: Iterable[SheetCell], left: int, right: int) -> list[SheetCell]:
    return [cell for cell in cells if left <= cell.column + cell.columns - 1 and cell.column <= right + 1]


def _lines(grid: Grid, columns: Sequence[TableColumn], rows: Sequence[int]) -> tuple[TableLine, ...]:
    found = []
    for row in rows:
        cells = tuple(grid.at(row, column.number) for column in columns)
        by_role: dict[str, SheetCell] = {}
        for column, cell in zip(columns, cells, strict=True):
            if column.role and (column.role not in by_role or by_role[column.role].empty):
                by_role[column.role] = cell
        found.append(TableLine(row, by_role, cells))
    return tuple(found)


def _counts(line: TableLine, columns: Sequence[TableColumn]) -> bool:
    """Say whether a line is one of the table and no note below it."""
    if line.total or any(cell.text and is_total(cell.text) for cell in line.cells[:3]):
        return True
    filled = [(column, cell) for column, cell in zip(columns, line.cells, strict=True) if not cell.empty]
    values = [
        cell
        for column, cell in filled
        if ((column.role in NUMBERS or not column.role) and _amounts_to_something(cell)) or cell.trouble
    ]
    if values:
        return True
    return len(filled) >= 2 and any(column.role in SUBJECTS for column, _ in filled)


def _amounts_to_something(cell: SheetCell) -> bool:
    return is_amount(cell) or said(cell, ".").kind == "open"


# --- what stands above a table


@dataclass(frozen=True)
class Headlines:
    """What stands above a table: words with what they say ("Date: 3 May"), and words alone."""

    pairs: tuple[tuple[str, SheetCell, SheetCell], ...]
    alone: tuple[SheetCell, ...]

    def find(self, words: Iterable[str]) -> tuple[SheetCell, SheetCell] | None:
        """Give the first pair whose label is one of the words, folded: its label's cell and its value's."""
        wanted = set(words)
        return next(((label, value) for name, label, value in self.pairs if name in wanted), None)


def headlines(table: FoundTable) -> Headlines:
    """Read what stands above a table: "Product: Hand cream" in one cell or in two, and lines of words."""
    pairs: list[tuple[str, SheetCell, SheetCell]] = []
    alone: list[SheetCell] = []
    by_row: dict[int, list[SheetCell]] = {}
    for cell in table.above:
        by_row.setdefault(cell.row, []).append(cell)
    for cells in by_row.values():
        taken = False
        for position, cell in enumerate(cells):
            if taken:
                taken = False
                continue
            name, colon, value = cell.text.partition(":")
            following = cells[position + 1] if position + 1 < len(cells) else None
            if colon and value.strip():
                pairs.append((fold(name), cell, replace(cell, value=value.strip())))
            elif (colon or _is_label(cell.text)) and following is not None:
                pairs.append((fold(name), cell, following))
                taken = True
            elif isinstance(cell.value, str):
                alone.append(cell)
    return Headlines(tuple(pairs), tuple(alone))


def _is_label(text: str) -> bool:
    from formula_vcs.sheets.header_words import BATCHES, DATES, MATERIALS, TITLES

    return fold(text) in TITLES | MATERIALS | DATES | BATCHES or is_known(text)
