"""Read a table of separated values into a grid: any separator, UTF-8, UTF-16 or Windows' own letters."""

from __future__ import annotations

import codecs
import csv
import io
from typing import Final

from formula_vcs.sheets.grid import MOST_BYTES, MOST_COLUMNS, Book, Grid, SheetCell, SheetTrouble, check_size
from formula_vcs.sheets.write_tables import unprotected

_SEPARATORS: Final = (";", "\t", ",", "|")
_SAMPLE: Final = 60


def read_csv(data: bytes, name: str) -> Book:
    """Read a table; every cell is text.

    :raises SheetTrouble: it is no text, or too large.
    """
    if len(data) > MOST_BYTES // 5:
        raise SheetTrouble(f"has {len(data) // 1_048_576} MB; a table of text has at most {MOST_BYTES // 5_242_880}")
    text = _decoded(data)
    records = _records(text)
    check_size(name, len(records), max(map(len, records), default=0), sum(map(len, records)))
    cells = {
        (row, column): SheetCell(row, column, unprotected(value))
        for row, record in enumerate(records, 1)
        for column, value in enumerate(record, 1)
        if value.strip()
    }
    return Book(name, (Grid(name.rsplit("/", 1)[-1].rsplit(".", 1)[0], cells),))


def _decoded(data: bytes) -> str:
    for mark, encoding in ((codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16")):
        if data.startswith(mark):
            try:
                return data.decode(encoding)
            except UnicodeDecodeError as error:
                raise SheetTrouble("is no text: broken UTF-16") from error
    if b"\0" in data:
        raise SheetTrouble("is no text: it holds zero bytes")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        try:
            return data.decode("cp1252")
        except UnicodeDecodeError as error:
            raise SheetTrouble("is neither UTF-8 nor Windows-1252; save it as 'CSV UTF-8'") from error


def _records(text: str) -> list[list[str]]:
    """Split by the separator that makes most rows of the beginning equally wide, and the widest."""
    first, _, rest = text.partition("\n")
    if first.strip().lower().startswith("sep=") and len(first.strip()) == 5:
        return _split(rest, first.strip()[4])
    lines = [line for line in text.splitlines() if line.strip()][:_SAMPLE]
    sample = "\n".join(lines)
    return _split(text, max(_SEPARATORS, key=lambda mark: _evenness(sample, mark)))


def _evenness(sample: str, mark: str) -> int:
    widths = [len(record) for record in _split(sample, mark) if record]
    wide = [width for width in widths if width > 1]
    if not wide:
        return 0
    most = max(set(wide), key=lambda width: (wide.count(width), width))
    return wide.count(most) * 100 + most


def _split(text: str, mark: str) -> list[list[str]]:
    try:
        records = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark))
    except csv.Error as error:
        raise SheetTrouble(f"is no table that can be read: {error}") from error
    if any(len(record) > MOST_COLUMNS for record in records):
        raise SheetTrouble(f"has a row of over {MOST_COLUMNS:,} cells")
    return records
