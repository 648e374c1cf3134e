"""Open a spreadsheet by what it is: the first bytes say it, not the name."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Final

from formula_vcs.sheets.grid import MOST_BYTES, Book, SheetTrouble

_ZIP: Final = b"PK\x03\x04"
_OLE: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_NEEDS: Final = {"xlsx": ("openpyxl", "defusedxml"), "ods": ("defusedxml",), "xls": ("xlrd",)}
MISSING: Final = "needs the spreadsheet libraries: pip install 'formula-vcs[sheets]' (a .csv file needs none)"


def read_book(path: Path) -> Book:
    """Read a spreadsheet of any kind that is known.

    :raises SheetTrouble: it cannot be read, is hostile, or a library is missing.
    """
    try:
        if not path.is_file():
            raise SheetTrouble("is no file" if path.exists() else "is not there")
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise SheetTrouble(f"has {size // 1_048_576} MB; at most {MOST_BYTES // 1_048_576} are read")
        data = path.read_bytes()
    except OSError as error:
        raise SheetTrouble(f"cannot be read: {error.strerror}") from error
    return read_bytes(data, path.name)


def read_bytes(data: bytes, name: str) -> Book:
    """Read the bytes of a spreadsheet.

    :raises SheetTrouble: as `read_book`.
    """
    if not data.strip():
        raise SheetTrouble("is empty")
    kind = kind_of(data)
    lacking = [module for module in _NEEDS.get(kind, ()) if importlib.util.find_spec(module) is None]
    if lacking:
        raise SheetTrouble(MISSING)
    if kind == "xlsx":
        from formula_vcs.sheets.read_excel import read_xlsx

        return read_xlsx(data, name)
    if kind == "ods":
        from formula_vcs.sheets.read_ods import read_ods

        return read_ods(data, name)
    if kind == "xls":
        from formula_vcs.sheets.read_excel import read_xls

        return read_xls(data, name)
    from formula_vcs.sheets.read_csv import read_csv

    return read_csv(data, name)


def kind_of(data: bytes) -> str:
    """Say what the bytes are: xlsx, ods, xls or csv."""
    if data.startswith(_OLE):
        return "xls"
    if not data.startswith(_ZIP):
        return "csv"
    return "ods" if b"application/vnd.oasis.opendocument" in data[:200] or b"content.xml" in data[-65_000:] else "xlsx"
