"""Read an old Excel workbook (.xls) into grids, by xlrd, with its formats."""

from __future__ import annotations

import datetime
import io
from typing import Any, Final

from formula_vcs.sheets.grid import MOST_SHEETS, Book, Grid, SheetCell, SheetTrouble, Value, check_size, exact
from formula_vcs.sheets.read_xlsx import _CURRENCIES, _CURRENCY, _PLAIN

_NO_FILL: Final = (64, 9)


def read_xls(data: bytes, name: str) -> Book:
    """Read a workbook of Excel 97 to 2003.

    xlrd does not tell a formula from its value, and gives a formula that was never worked out as 0 or as an empty
    text: a note says so.

    :raises SheetTrouble: it is none.
    """
    import xlrd

    try:
        book = xlrd.open_workbook(file_contents=data, formatting_info=True, logfile=io.StringIO())
    except Exception as error:  # what a damaged workbook makes xlrd raise is not listed anywhere
        raise SheetTrouble(f"is no old Excel workbook that can be read ({type(error).__name__})") from error
    if book.nsheets > MOST_SHEETS:
        raise SheetTrouble(f"has {book.nsheets} sheets; at most {MOST_SHEETS} are read")
    grids = tuple(_grid(book, book.sheet_by_index(number)) for number in range(book.nsheets))
    return Book(name, grids, ("is an old .xls file: formulas that were never worked out cannot be told from values",))


def _grid(book: Any, sheet: Any) -> Grid:
    check_size(sheet.name, sheet.nrows, sheet.ncols, sheet.nrows * sheet.ncols)
    merged = {(top, left): (bottom - top, right - left) for top, bottom, left, right in sheet.merged_cells}
    if sum(rows * columns for rows, columns in merged.values()) > 400_000:
        raise SheetTrouble(f"sheet '{sheet.name}' merges more cells than any table has")
    cells = {}
    for row in range(sheet.nrows):
        for column in range(sheet.ncols):
            cell = _cell(book, sheet, row, column, merged.get((row, column), (1, 1)))
            if not cell.empty or cell.fill:
                cells[row + 1, column + 1] = cell
    rows = frozenset(row + 1 for row, info in sheet.rowinfo_map.items() if info.hidden)
    columns = frozenset(column + 1 for column, info in sheet.colinfo_map.items() if info.hidden)
    return Grid(sheet.name, cells, rows, columns, sheet.visibility != 0)


def _cell(book: Any, sheet: Any, row: int, column: int, span: tuple[int, int]) -> SheetCell:
    raw = sheet.cell(row, column)
    style = book.xf_list[raw.xf_index] if raw.xf_index is not None else None
    shape = book.format_map[style.format_key].format_str if style is not None else ""
    fill = style.background.pattern_colour_index if style is not None and style.background.fill_pattern else 64
    money = _CURRENCY.search(shape)
    return SheetCell(
        row + 1,
        column + 1,
        value=_value(book, raw),
        percent=raw.ctype == 2 and "%" in _PLAIN.sub("", shape),
        currency=_CURRENCIES[money[0]] if money else "",
        fill="" if fill in _NO_FILL else f"colour {fill}",
        struck=style is not None and bool(book.font_list[style.font_index].struck_out),
        trouble=f"an error, code {raw.value}" if raw.ctype == 5 else "",
        rows=span[0],
        columns=span[1],
    )


def _value(book: Any, raw: Any) -> Value:
    import xlrd

    if raw.ctype == 1:
        return str(raw.value)
    if raw.ctype == 2:
        return exact(raw.value)
    if raw.ctype == 3:
        try:
            found: datetime.datetime = xlrd.xldate_as_datetime(raw.value, book.datemode)
        except (ValueError, OverflowError):
            return str(raw.value)
        return found if raw.value < 1 or raw.value % 1 else found.date()
    return bool(raw.value) if raw.ctype == 4 else None
