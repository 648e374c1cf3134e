"""Read workbooks of Excel, old and new."""

from __future__ import annotations

import datetime
import io
import warnings
from collections.abc import Mapping
from typing import Any, Final

from formula_vcs.sheets.book_guard import guarded
from formula_vcs.sheets.grid import MOST_SHEETS, Book, Grid, SheetCell, SheetTrouble, Value, check_size, exact
from formula_vcs.words.late_pattern import late_pattern

# --- Read an old Excel workbook (.xls) into grids, by xlrd, with its formats


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


# --- Read an Excel workbook (.xlsx, .xlsm) into grids, by openpyxl: values, formats, colours, hidden and struck rows


NO_VALUE: Final = "a formula without a value: open the file in a spreadsheet program and save it"
_PLAIN: Final = late_pattern(r'"[^"]*"|\\.|\[[^\]]*\]')
_CURRENCIES: Final = {"€": "EUR", "£": "GBP", "$": "USD", "EUR": "EUR", "USD": "USD", "GBP": "GBP", "CHF": "CHF"}
_CURRENCY: Final = late_pattern(r"€|£|\$|\b(?:EUR|USD|GBP|CHF)\b")
_NO_COLOUR: Final = ("00000000", "FFFFFFFF", "00FFFFFF")


def read_xlsx(data: bytes, name: str) -> Book:
    """Read a workbook; formulas give the values that were last worked out.

    :raises SheetTrouble: it is none, or a hostile one.
    """
    package = guarded(data)
    if "xl/workbook.xml" not in package.names:
        raise SheetTrouble("is a zip file and no Excel workbook")
    book = _loaded(data, values=True)
    formulas = _loaded(data, values=False) if package.formulas else None
    if len(book.sheetnames) > MOST_SHEETS:
        raise SheetTrouble(f"has {len(book.sheetnames)} sheets; at most {MOST_SHEETS} are read")
    grids = tuple(_xlsx_grid(sheet, None if formulas is None else formulas[sheet.title]) for sheet in book.worksheets)
    return Book(name, grids, package.notes)


def _loaded(data: bytes, *, values: bool) -> Any:
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # openpyxl warns of what it leaves out: pictures, validation, extensions
            return openpyxl.load_workbook(io.BytesIO(data), data_only=values, keep_links=False)
    except Exception as error:  # what a damaged workbook makes openpyxl raise is not listed anywhere
        raise SheetTrouble(f"is no Excel workbook that can be read ({type(error).__name__})") from error


def _xlsx_grid(sheet: Any, formulas: Any) -> Grid:
    cells = sheet._cells  # noqa: SLF001 - its public iterators make every empty cell up to the last one
    check_size(sheet.title, sheet.max_row, sheet.max_column, len(cells))
    merged = {(area.min_row, area.min_col): area for area in sheet.merged_cells.ranges}
    found = {}
    for key, cell in cells.items():
        area = merged.get(key)
        formula = None if formulas is None else formulas._cells.get(key)  # noqa: SLF001 - as above
        found[key] = _xlsx_cell(key, cell, formula, area)
    rows = frozenset(row for row, settings in sheet.row_dimensions.items() if settings.hidden)
    return Grid(sheet.title, found, rows, _hidden_columns(sheet.column_dimensions), sheet.sheet_state != "visible")


def _xlsx_cell(key: tuple[int, int], cell: Any, formula: Any, area: Any) -> SheetCell:
    value = _xlsx_value(cell)
    shape = getattr(cell, "number_format", "General") or "General"
    bare = _PLAIN.sub("", shape)
    money = _CURRENCY.search(shape)
    return SheetCell(
        *key,
        value=value,
        percent="%" in bare and not isinstance(value, str),
        currency=_CURRENCIES[money[0]] if money else "",
        fill=_fill(cell),
        struck=bool(cell.font is not None and cell.font.strike),
        trouble=_trouble(cell, formula),
        rows=1 if area is None else area.max_row - area.min_row + 1,
        columns=1 if area is None else area.max_col - area.min_col + 1,
    )


def _xlsx_value(cell: Any) -> Value:
    import datetime

    value = cell.value
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, (int, float)):
        return exact(float(value)) if abs(value) < 10**18 else str(value)
    if cell.data_type == "e":
        return None
    if isinstance(value, datetime.datetime) and not (value.hour or value.minute or value.second):
        return value.date()
    if isinstance(value, (datetime.date, datetime.time)):
        return value
    return str(value)


def _trouble(cell: Any, formula: Any) -> str:
    if cell.data_type == "e":
        return f"an error, {str(cell.value)[:20]}"
    if formula is not None and formula.data_type == "f" and cell.value is None:
        return NO_VALUE
    return ""


def _fill(cell: Any) -> str:
    """Name the colour behind a cell, nothing where there is none; shades of a theme by their numbers."""
    fill = getattr(cell, "fill", None)
    if fill is None or fill.fill_type != "solid":
        return ""
    colour = fill.fgColor
    if colour.type == "rgb":
        return "" if colour.rgb in _NO_COLOUR else str(colour.rgb)
    if colour.type == "theme" and colour.theme == 0 and not colour.tint:
        return ""
    return f"{colour.type} {colour.value} {colour.tint:.2f}"


def _hidden_columns(columns: Mapping[str, Any]) -> frozenset[int]:
    hidden: set[int] = set()
    for settings in columns.values():
        if settings.hidden and settings.min and settings.max:
            hidden.update(range(settings.min, min(settings.max, 1_000) + 1))
    return frozenset(hidden)
