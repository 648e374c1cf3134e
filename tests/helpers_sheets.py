"""Make spreadsheets for tests: workbooks by openpyxl, OpenDocument by odfpy, tables of separated values; and plans."""

from __future__ import annotations

import io
import itertools
from collections.abc import Mapping, Sequence
from typing import Any

import openpyxl
from openpyxl.styles import Font, PatternFill

from formula_vcs.sheets.answers import Answers
from formula_vcs.sheets.import_plan import ImportPlan, plan_import
from formula_vcs.sheets.read_book import read_bytes
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Files, Snapshot

Rows = Any  # a list of rows, each a list of cells
WORKSPACE = 'title = "Works"\ncurrency = "EUR"\n'


def xlsx(sheets: Mapping[str, Rows], look: Mapping[str, str] | None = None) -> bytes:
    """Make a workbook.

    ``look`` holds by sheet!cell a number format, a fill ("#FFAA00"), "struck", "hidden" (its row), "sheet hidden" or,
    of an area, "merge".
    """
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    for place, what in (look or {}).items():
        name, _, cells = place.partition("!")
        _dress(book[name], cells, what)
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def _dress(sheet: Any, cells: str, what: str) -> None:
    if what == "merge":
        sheet.merge_cells(cells)
        return
    if what == "hidden":
        sheet.row_dimensions[int("".join(filter(str.isdigit, cells)))].hidden = True
        return
    if what == "sheet hidden":
        sheet.sheet_state = "hidden"
        return
    area = sheet[cells] if ":" in cells else ((sheet[cells],),)
    for cell in itertools.chain.from_iterable(area):
        if what.startswith("#") and len(what) == 7:
            cell.fill = PatternFill("solid", fgColor=what[1:])
        elif what == "struck":
            cell.font = Font(strike=True)
        else:
            cell.number_format = what


def ods(sheets: Mapping[str, Rows], percent: Sequence[str] = ()) -> bytes:
    """Make an OpenDocument spreadsheet; cells named ``Sheet!C7`` in ``percent`` are percentages."""
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    from formula_vcs.sheets.grid import column_name

    document = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for number, row in enumerate(rows, 1):
            line = TableRow()
            for column, value in enumerate(row, 1):
                line.addElement(_ods_cell(value, f"{name}!{column_name(column)}{number}" in percent, TableCell, P))
            table.addElement(line)
        document.spreadsheet.addElement(table)
    data = io.BytesIO()
    document.write(data)
    return data.getvalue()


def _ods_cell(value: Any, percent: bool, cell: Any, paragraph: Any) -> Any:
    if value is None:
        return cell()
    if isinstance(value, (int, float)):
        return cell(valuetype="percentage" if percent else "float", value=str(value))
    found = cell(valuetype="string")
    found.addElement(paragraph(text=str(value)))
    return found


def csv_text(rows: Rows, separator: str = ";") -> bytes:
    """Make a table of separated values."""
    return "\n".join(separator.join("" if cell is None else str(cell) for cell in row) for row in rows).encode() + b"\n"


def workspace(files: Mapping[str, str] | None = None) -> Snapshot:
    """Make a workspace in memory."""
    texts = {"workspace.toml": WORKSPACE, **(files or {})}
    return Snapshot(Files({path: text.encode() for path, text in texts.items()}))


def planned(
    data: bytes, files: Mapping[str, str] | None = None, *, name: str = "book.xlsx", answers: Answers | None = None
) -> ImportPlan:
    """Plan the import of one spreadsheet into a workspace in memory."""
    return plan_import([read_bytes(data, name)], workspace(files), answers or Answers())


def data_of(plan: ImportPlan) -> dict[str, Any]:
    """Give the data of the files that a plan would write, by path; every one is TOML."""
    found = {}
    for change in plan.changes:
        parsed = parse(change.new.encode())
        assert not parsed.errors, (change.path, parsed.errors, change.new)
        found[change.path] = parsed.data
    return found


def charges(data: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Give the charges of a recipe's data by phase, numbers as text."""
    return {
        name: {key: value if isinstance(value, str) else str(value) for key, value in phase.get("charge", {}).items()}
        for name, phase in data["phase"].items()
    }


def unclear(plan: ImportPlan) -> list[str]:
    """Give what was unclear, with its place."""
    return [f"{one.place}: {one.words}" for outcome in plan.outcomes for one in outcome.unclear]
