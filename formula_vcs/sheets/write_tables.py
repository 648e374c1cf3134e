"""Write tables as an Excel workbook or as separated values: numbers as numbers, texts never as formulas."""

from __future__ import annotations

import csv
import datetime
import importlib.util
import io
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from formula_vcs.errors import UserError
from formula_vcs.sheets.sheet_table import SheetTable, Value, plain
from formula_vcs.sheets.shown_text import cell_text, protected
from formula_vcs.words.late_pattern import late_pattern

_SHEET_NAME: Final = 31  # Microsoft, "Excel specifications and limits"
_NOT_IN_A_NAME: Final = late_pattern(r"[\[\]:*?/\\']")
_WIDEST: Final = 60
_FIRST_DAY: Final = datetime.date(1900, 3, 1)  # Excel counts a 29 February 1900, which there was not


def workbook(tables: Sequence[SheetTable]) -> bytes:
    """Give an Excel workbook with a sheet a table: heads bold and frozen, a filter, no macro, no formula, no link.

    :raises UserError: the library is not installed.
    """
    if importlib.util.find_spec("xlsxwriter") is None:
        raise UserError("an .xlsx file needs the spreadsheet libraries: pip install 'formula-vcs[sheets]'")
    import xlsxwriter

    data = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(data, options)
    looks = {
        "head": book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"}),
        "day": book.add_format({"num_format": "yyyy-mm-dd"}),
    }
    names: set[str] = set()
    for table in tables:
        _sheet(book.add_worksheet(_sheet_name(table.name, names)), table, looks)
    book.close()
    return data.getvalue()


def _sheet_name(name: str, taken: set[str]) -> str:
    bare = _NOT_IN_A_NAME.sub(" ", cell_text(name)).strip()[:_SHEET_NAME] or "Sheet"
    number = 1
    found = bare
    while found.casefold() in taken or found.casefold() == "history":
        number += 1
        found = f"{bare[: _SHEET_NAME - 5]} {number}"
    taken.add(found.casefold())
    return found


def _sheet(sheet: Any, table: SheetTable, looks: dict[str, Any]) -> None:
    row = 0
    for row, (label, value) in enumerate(table.above):
        sheet.write_string(row, 0, cell_text(label))
        sheet.write_string(row, 1, cell_text(value))
    head = row + 2 if table.above else 0
    for column, words in enumerate(table.heads):
        sheet.write_string(head, column, cell_text(words), looks["head"])
        width = max((len(_shown(cells[column])) for cells in table.rows[:500]), default=0)
        sheet.set_column(column, column, min(max(width, min(len(words), 14)) + 2, _WIDEST))
    for number, cells in enumerate(table.rows, head + 1):
        for column, cell in enumerate(cells):
            _cell(sheet, (number, column), cell, looks)
    sheet.freeze_panes(head + 1, 0)
    if table.rows:
        sheet.autofilter(head, 0, head + len(table.rows), len(table.heads) - 1)


def _cell(sheet: Any, place: tuple[int, int], cell: Value, looks: dict[str, Any]) -> None:
    if isinstance(cell, Decimal):
        sheet.write_number(*place, float(cell))
    elif isinstance(cell, datetime.date) and cell >= _FIRST_DAY:
        sheet.write_datetime(*place, datetime.datetime(cell.year, cell.month, cell.day), looks["day"])  # noqa: DTZ001
    elif cell is not None:
        sheet.write_string(*place, cell_text(str(cell)))


def separated(table: SheetTable, decimal: str = ".") -> bytes:
    """Give a table of separated values: commas and points, or semicolons and decimal commas; UTF-8 with a mark.

    A text that a program would take for a formula has an apostrophe in front.
    """
    text = io.StringIO()
    writer = csv.writer(text, delimiter=";" if decimal == "," else ",", lineterminator="\r\n")
    for label, value in table.above:
        writer.writerow([protected(cell_text(label)), protected(cell_text(value))])
    if table.above:
        writer.writerow([])
    writer.writerow([protected(cell_text(head)) for head in table.heads])
    for row in table.rows:
        writer.writerow([_separated(cell, decimal) for cell in row])
    return text.getvalue().encode("utf-8-sig")


def _separated(cell: Value, decimal: str) -> str:
    if isinstance(cell, Decimal):
        return plain(cell).replace(".", decimal)
    return protected(cell_text(_shown(cell)))


def _shown(cell: Value) -> str:
    return plain(cell) if isinstance(cell, Decimal) else "" if cell is None else str(cell)
