"""Write tables as an Excel workbook or as separated values: numbers as numbers, texts never as formulas."""

from __future__ import annotations

import csv
import datetime
import importlib.util
import io
from collections.abc import Sequence
from decimal import Context, Decimal
from fractions import Fraction
from typing import Any, Final

from formula_vcs.errors import UserError
from formula_vcs.model.values import dataclass
from formula_vcs.survey.survey import SurveyedRecipe
from formula_vcs.words.escape import CELL, shortened, terminal
from formula_vcs.words.late_pattern import late_pattern

# --- A table on its way out: heads with their units, and rows of texts, numbers and days


Value = str | Decimal | datetime.date | None


@dataclass(frozen=True)
class SheetTable:
    """One sheet: its name, what stands above its heads, the heads, the rows."""

    name: str
    heads: Sequence[str]
    rows: Sequence[Sequence[Value]]
    above: Sequence[tuple[str, str]] = ()


def plain(number: Decimal) -> str:
    """Write a number: no zeros behind it that say nothing, but never three decimals, which may be read as thousands.

    >>> plain(Decimal("5.00")), plain(Decimal("1.250")), plain(Decimal("1.255"))
    ('5', '1.25', '1.2550')
    """
    text = f"{number:f}"
    if "." not in text:
        return text
    text = text.rstrip("0").rstrip(".")
    _, point, places = text.partition(".")
    return f"{text}0" if point and len(places) == 3 else text


def as_decimal(value: Fraction) -> Decimal:
    """Give a fraction as a decimal: exact where it has at most 15 digits, as a sheet shows at most, else rounded."""
    digits = Context(prec=15)
    return digits.divide(Decimal(value.numerator), Decimal(value.denominator))


# --- Texts in cells: what can stand in one, and what a table of separated values has to protect; each way undone


# What a spreadsheet takes for a formula (OWASP, "CSV Injection"), in full width too.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def cell_text(text: str) -> str:
    """Give a text as a cell can hold it: what cannot be seen by its code, and not longer than a cell."""
    return shortened(terminal(text), CELL)


def says(cell: str, on_file: object) -> bool:
    """Say whether a cell says what a file says, as far as a cell can: blanks and what cannot be seen do not count."""
    if not isinstance(on_file, str):
        return False
    return " ".join(cell.split()) in (" ".join(cell_text(on_file).split()), " ".join(on_file.split()))


def protected(text: str) -> str:
    """Give a text for a table of separated values, so that no program takes it for a formula.

    >>> protected("=1+1"), protected("'=1"), protected("glycerin")
    ("'=1+1", "''=1", 'glycerin')
    """
    return f"'{text}" if _acts(text.lstrip("'")) else text


def _acts(text: str) -> bool:
    """Say whether a text is a formula to a spreadsheet, or, printed, a command to a runner: ``::error``."""
    return text.startswith(_FORMULA) or text.lstrip().startswith("::")


def unprotected(text: str) -> str:
    """Undo `protected`.

    >>> unprotected("'=1+1"), unprotected("'=1"), unprotected("'tis")
    ('=1+1', '=1', "'tis")
    """
    return text[1:] if text.startswith("'") and _acts(text.lstrip("'")) else text


# --- Write tables as an Excel workbook or as separated values: numbers as numbers, texts never as formulas


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


# --- The survey as a table for a spreadsheet: one row a recipe


def survey_table(found: Sequence[SurveyedRecipe]) -> SheetTable:
    """Give one row a recipe: as it is, as it would be, and what that costs."""
    heads = (
        "Recipe id", "Recipe", "Product", "Markets", "Status", "Status what if", "Breaks", "Cost per kg",
        "Cost per kg what if", "Change per kg", "Currency", "Claims that hold", "Claims", "Nearest limit",
        "Used of it (%)", "Evidence", "Would break by", "Not known", "Label", "Deadline",
    )  # fmt: skip
    return SheetTable("Survey", heads, [_row(one) for one in found])


def _row(one: SurveyedRecipe) -> tuple[Value, ...]:
    state, limit = one.state, one.state.limit
    return (
        one.id, one.title, one.product, ", ".join(one.markets), one.now.status,
        None if one.then is None else one.then.status, "yes" if one.breaks else None, _number(one.now.cost),
        _number(None if one.then is None else one.then.cost), _number(one.dearer), state.currency,
        Decimal(sum(claim.verdict == "holds" for claim in state.claims)), Decimal(len(state.claims)),
        None if limit is None else limit.what, None if limit is None else as_decimal(limit.used * 100),
        "; ".join(f"{what} {worth}" for what, worth in one.evidence) or None,
        one.refused or "; ".join(f"[{finding.rule}] {finding.message}" for finding in one.broken) or None,
        "; ".join(state.lacking) or None, state.label or None,
        None if state.deadline is None else state.deadline.day,
    )  # fmt: skip


def _number(value: Fraction | None) -> Decimal | None:
    return None if value is None else as_decimal(value)
