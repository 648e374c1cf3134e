"""Read an OpenDocument spreadsheet (.ods) into grids: its one XML part holds values, formats by name, and repeats.

OASIS, OpenDocument 1.3, part 3, section 9 (tables) and 19 (attributes).
"""

from __future__ import annotations

import datetime
import io
import zipfile
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Final

from formula_vcs.sheets.book_guard import guarded
from formula_vcs.sheets.grid import (
    MOST_CELLS,
    MOST_SHEETS,
    Book,
    Grid,
    SheetCell,
    SheetTrouble,
    Value,
    check_size,
    exact,
)
from formula_vcs.sheets.read_excel import NO_VALUE

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_URN: Final = "{urn:oasis:names:tc:opendocument:xmlns:"
_TABLE: Final = f"{_URN}table:1.0}}"
_OFFICE: Final = f"{_URN}office:1.0}}"
_TEXT: Final = f"{_URN}text:1.0}}"
_STYLE: Final = f"{_URN}style:1.0}}"
_FO: Final = f"{_URN}xsl-fo-compatible:1.0}}"
_NUMBERS: Final = ("float", "percentage", "currency")


def read_ods(data: bytes, name: str) -> Book:
    """Read a spreadsheet.

    :raises SheetTrouble: it is none, or a hostile one.
    """
    package = guarded(data)
    if "content.xml" not in package.names:
        raise SheetTrouble("is a zip file and no OpenDocument spreadsheet")
    from defusedxml.ElementTree import fromstring

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            root = fromstring(packed.read("content.xml"), forbid_dtd=True)
    except Exception as error:  # of a parser and of its guard
        raise SheetTrouble(f"is no spreadsheet that can be read ({type(error).__name__})") from error
    tables = root.findall(f"./{_OFFICE}body/{_OFFICE}spreadsheet/{_TABLE}table")
    if not tables:
        raise SheetTrouble("is an OpenDocument file without a sheet")
    if len(tables) > MOST_SHEETS:
        raise SheetTrouble(f"has {len(tables)} sheets; at most {MOST_SHEETS} are read")
    styles = _styles(root)
    return Book(name, tuple(_grid(table, styles) for table in tables), package.notes)


class _Look:
    """What a named style shows: the colour behind a cell, whether its text is struck through, whether it is hidden."""

    def __init__(self, element: Element) -> None:
        cell = element.find(f"{_STYLE}table-cell-properties")
        text = element.find(f"{_STYLE}text-properties")
        table = element.find(f"{_STYLE}table-properties")
        colour = "" if cell is None else cell.get(f"{_FO}background-color", "")
        self.fill = "" if colour in ("transparent", "#ffffff") else colour
        line = "none" if text is None else text.get(f"{_STYLE}text-line-through-style", "none")
        self.struck = line != "none"
        self.hidden = table is not None and table.get(f"{_TABLE}display") == "false"


def _styles(root: Element) -> dict[str, _Look]:
    found = root.findall(f"./{_OFFICE}automatic-styles/{_STYLE}style")
    return {style.get(f"{_STYLE}name", ""): _Look(style) for style in found}


def _grid(table: Element, styles: dict[str, _Look]) -> Grid:
    name = table.get(f"{_TABLE}name", "")
    cells: dict[tuple[int, int], SheetCell] = {}
    hidden: set[int] = set()
    row = 1
    covered = 0
    for element in table.iter(f"{_TABLE}table-row"):
        again = _count(element, "number-rows-repeated")
        line = _row(element, row, styles)
        used = any(not cell.empty for cell in line)
        if used or any(cell.rows * cell.columns > 1 for cell in line):
            if again * len(line) + len(cells) > MOST_CELLS:
                raise SheetTrouble(f"sheet '{name[:40]}' repeats row {row} {again:,} times; that is no list of a lab")
            for extra in range(again):
                for cell in line:
                    cells[row + extra, cell.column] = _moved(cell, row + extra)
        covered += sum(cell.rows * cell.columns for cell in line)
        if covered > 2 * MOST_CELLS:
            raise SheetTrouble(f"sheet '{name[:40]}' merges more cells than any table has (row {row})")
        if element.get(f"{_TABLE}visibility") in ("collapse", "filter"):
            hidden.update(range(row, row + min(again, MOST_CELLS)))
        row += again
    check_size(name, max((key[0] for key in cells), default=0), max((key[1] for key in cells), default=0), len(cells))
    look = styles.get(table.get(f"{_TABLE}style-name", ""))
    return Grid(name, cells, frozenset(hidden), _hidden_columns(table), look is not None and look.hidden)


def _moved(cell: SheetCell, row: int) -> SheetCell:
    from dataclasses import replace

    return cell if cell.row == row else replace(cell, row=row)


def _row(element: Element, row: int, styles: dict[str, _Look]) -> list[SheetCell]:
    found: list[SheetCell] = []
    column = 1
    for child in element:
        if child.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        again = _count(child, "number-columns-repeated")
        cell = _cell(child, row, column, styles)
        if not cell.empty or cell.fill or cell.rows * cell.columns > 1:
            if not cell.empty and again + len(found) > 1_000:
                raise SheetTrouble(f"repeats cell {cell.place} {again:,} times; that is no list of a lab")
            found += [_beside(cell, column + extra) for extra in range(again if not cell.empty else 1)]
        column += again
    return found


def _beside(cell: SheetCell, column: int) -> SheetCell:
    from dataclasses import replace

    return cell if cell.column == column else replace(cell, column=column)


def _cell(element: Element, row: int, column: int, styles: dict[str, _Look]) -> SheetCell:
    kind = element.get(f"{_OFFICE}value-type", "")
    look = styles.get(element.get(f"{_TABLE}style-name", ""))
    value = _value(element, kind)
    words = "\n".join("".join(part.itertext()) for part in element.findall(f"{_TEXT}p"))
    if value is None and words:
        value = words
    trouble = ""
    if isinstance(value, str) and element.get(f"{_TABLE}formula") and value.startswith(("#", "Err:")):
        trouble = f"an error, {value[:20]}"
        value = None
    elif value is None and element.get(f"{_TABLE}formula"):
        trouble = NO_VALUE
    return SheetCell(
        row,
        column,
        value=value,
        percent=kind == "percentage",
        currency=element.get(f"{_OFFICE}currency", "") if kind == "currency" else "",
        fill="" if look is None else look.fill,
        struck=look is not None and look.struck,
        trouble=trouble,
        rows=_count(element, "number-rows-spanned"),
        columns=_count(element, "number-columns-spanned"),
    )


def _value(element: Element, kind: str) -> Value:
    raw = element.get(f"{_OFFICE}value", "")
    if kind in _NUMBERS:
        try:
            number = Decimal(raw)
        except InvalidOperation:
            return raw or None
        return exact(float(number)) if number.is_finite() and abs(number) < Decimal(10) ** 18 else raw
    if kind == "boolean":
        return element.get(f"{_OFFICE}boolean-value") == "true"
    if kind == "date":
        return _date(element.get(f"{_OFFICE}date-value", ""))
    return None


def _date(raw: str) -> Value:
    try:
        found = datetime.datetime.fromisoformat(raw)
    except ValueError:
        return raw or None
    return found.date() if len(raw) == len("2026-01-31") else found


def _count(element: Element, name: str) -> int:
    raw = element.get(f"{_TABLE}{name}", "1")
    return max(int(raw), 1) if raw.isascii() and raw.isdigit() and len(raw) < 10 else 1


def _hidden_columns(table: Element) -> frozenset[int]:
    hidden: set[int] = set()
    column = 1
    for element in table.iter(f"{_TABLE}table-column"):
        again = _count(element, "number-columns-repeated")
        if element.get(f"{_TABLE}visibility") in ("collapse", "filter"):
            hidden.update(range(column, min(column + again, 1_000)))
        column += again
    return frozenset(hidden)
