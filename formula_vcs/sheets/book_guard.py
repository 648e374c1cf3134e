"""Look at a packed spreadsheet before any library opens it: bombs, entities, merged giants, macros, links.

The sizes in a zip directory can lie, so what is read here is counted while it is unpacked.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from typing import Final

from formula_vcs.model.values import dataclass
from formula_vcs.sheets.grid import MOST_BYTES, MOST_CELLS, MOST_COLUMNS, MOST_ROWS, SheetTrouble, column_number
from formula_vcs.words.late_pattern import late_pattern

MOST_PARTS: Final = 1_000
MOST_RATIO: Final = 200
"""How many times a part may grow when it is unpacked; lists grow by 5 to 30.  Our choice."""
_SMALL: Final = 1024 * 1024
_CHUNK: Final = 1024 * 1024
_ENTITY: Final = late_pattern(rb"<!\s*(?:ENTITY|DOCTYPE)", re.IGNORECASE)
_MERGED: Final = late_pattern(rb"<(?:\w+:)?mergeCell\s[^>]*?ref=[\"']([A-Z]{1,7})(\d{1,9}):([A-Z]{1,7})(\d{1,9})[\"']")
_CELL: Final = late_pattern(rb"<(?:\w+:)?c[\s>/]")
_REF: Final = late_pattern(rb"<(?:\w+:)?c\s[^>]*?r=[\"']([A-Z]{1,7})(\d{1,9})[\"']")
_ROW: Final = late_pattern(rb"<(?:\w+:)?row\s[^>]*?r=[\"'](\d{1,9})[\"']")


@dataclass(frozen=True, slots=True)
class PackedParts:
    """What a look at the parts of a packed file has found."""

    names: tuple[str, ...]
    notes: tuple[str, ...]
    formulas: bool


def guarded(data: bytes) -> PackedParts:
    """Look at every part of a packed spreadsheet.

    :raises SheetTrouble: it is no zip file, is encrypted, unpacks to too much, or brings entities of its own.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            return _looked_at(packed)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError, ValueError) as error:
        if isinstance(error, SheetTrouble):
            raise
        raise SheetTrouble("is no spreadsheet that can be unpacked: damaged, encrypted, or of another kind") from error
    except zipfile.zlib.error as error:  # type: ignore[attr-defined]
        raise SheetTrouble("is damaged: a part of it cannot be unpacked") from error


def _looked_at(packed: zipfile.ZipFile) -> PackedParts:
    parts = packed.infolist()
    if len(parts) > MOST_PARTS:
        raise SheetTrouble(f"has {len(parts):,} parts; a spreadsheet has at most {MOST_PARTS:,}")
    if len({part.filename for part in parts}) < len(parts):
        raise SheetTrouble("has two parts of one name: which of them a program reads is not certain")
    if any(part.flag_bits & 1 for part in parts):
        raise SheetTrouble("is protected by a password; save a copy without one")
    whole = 0
    formulas = False
    for part in parts:
        unpacked = 0
        counts = _Counts(part.filename)
        for chunk in _chunks(packed, part):
            unpacked += len(chunk)
            whole += len(chunk)
            if whole > MOST_BYTES or unpacked > max(_SMALL, MOST_RATIO * max(part.compress_size, 1)):
                raise SheetTrouble(f"unpacks '{part.filename[:60]}' to over {unpacked // _SMALL} MB: a zip bomb?")
            counts.see(chunk)
        formulas = formulas or counts.formulas
    names = tuple(part.filename for part in parts)
    return PackedParts(names, tuple(_notes(names)), formulas)


def _chunks(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> Iterator[bytes]:
    with packed.open(part) as file:
        while chunk := file.read(_CHUNK):
            yield chunk


class _Counts:
    """What the chunks of one part hold; an overlap finds what lies across two chunks."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.xml = name.lower().endswith((".xml", ".rels"))
        self.sheet = name.startswith("xl/worksheets/") and self.xml
        self.formulas = False
        self.cells = 0
        self.merged = 0
        self.tail = b""

    def see(self, chunk: bytes) -> None:
        if not self.xml:
            return
        text = self.tail + chunk
        if b"\0" in text:
            raise SheetTrouble(f"holds zero bytes in '{self.name[:60]}'; its text is to be UTF-8")
        if _ENTITY.search(text):
            raise SheetTrouble(f"declares XML entities in '{self.name[:60]}'; no spreadsheet program writes any")
        if self.sheet:
            self._sheet(text)
        # only whole elements are looked at; a part without '>' for long has nothing to count
        cut = text.rfind(b">") + 1
        self.tail = text[cut:][-4096:]

    def _sheet(self, text: bytes) -> None:
        self.formulas = self.formulas or b"<f" in text
        self.cells += len(_CELL.findall(text))
        if self.cells > MOST_CELLS:
            raise SheetTrouble(f"has over {MOST_CELLS:,} cells in '{self.name}'; that is no list of a lab")
        last = max((int(row) for row in _ROW.findall(text)), default=0)
        if last > MOST_ROWS:
            raise SheetTrouble(f"goes down to row {last:,} in '{self.name}'; at most {MOST_ROWS:,} rows are read")
        for letters, row in _REF.findall(text):
            if int(row) > MOST_ROWS or column_number(letters.decode()) > MOST_COLUMNS:
                place = f"{letters.decode()}{int(row)}"
                raise SheetTrouble(f"has something in cell {place} of '{self.name}', far outside of any table")
        for left, top, right, bottom in _MERGED.findall(text):
            width = column_number(right.decode()) - column_number(left.decode()) + 1
            self.merged += max(width, 0) * max(int(bottom) - int(top) + 1, 0)
            if self.merged > MOST_CELLS:
                area = f"{left.decode()}{top.decode()}:{right.decode()}{bottom.decode()}"
                raise SheetTrouble(f"merges {area} in '{self.name}': more cells than any table has")


def _notes(names: tuple[str, ...]) -> Iterator[str]:
    if any(name.lower().endswith("vbaproject.bin") or name.startswith("Basic/") for name in names):
        yield "holds macros; they were neither read nor run"
    if any("externalLinks/" in name for name in names):
        yield "links to other files; they were not opened, and values taken from them may be old"
    if any("embeddings/" in name or "Object " in name for name in names):
        yield "holds embedded objects; they were not looked at"
