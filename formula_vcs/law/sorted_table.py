"""Look a key up in a sorted text file without reading the rest of it.

The file is UTF-8, one row a line, cells parted by tabs, the key first; rows stand in the order of their keys' code
points, and a key may have several.  Lines before the first row that begin with ``#`` are its heading: what it is, of
which day, from which source.  A look-up maps the file into memory and halves it some fifteen times, so it costs the
same in a file of thirty rows and of thirty thousand; nothing else of the file is read or kept, but where thousands are
asked: then all keys are read once.

The key is compared as it stands: folding a name (case, spaces, languages) is for whoever asks.
"""

from __future__ import annotations

import mmap
from collections.abc import Iterable, Iterator
from functools import cached_property, lru_cache
from itertools import takewhile
from pathlib import Path
from typing import Final

_END: Final = b"\n"
_CELL: Final = b"\t"
# Whoever asks for so many keys is told of most of them that they are not there: then it pays to read all keys once.
_MANY: Final = 2_000


class SortedTable:
    """A sorted file, opened when first asked."""

    def __init__(self, file: Path) -> None:
        """Take the file; it must not change while it is in use."""
        self._file = file
        self._asked = 0

    @cached_property
    def _bytes(self) -> mmap.mmap | bytes:
        with self._file.open("rb") as opened:
            try:
                return mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ)
            except (ValueError, OSError):  # an empty file cannot be mapped, nor can one on some file systems
                return opened.read()

    @cached_property
    def _first(self) -> int:
        """Where the rows begin, behind the heading."""
        at = 0
        while self._bytes[at : at + 1] == b"#":
            at = self._after(at)
        return at

    def _after(self, at: int) -> int:
        """Where the line after the one that holds a place begins."""
        end = self._bytes.find(_END, at)
        return len(self._bytes) if end < 0 else end + 1

    def _line(self, at: int) -> bytes:
        return self._bytes[at : self._after(at)].removesuffix(_END)

    def _seek(self, key: bytes) -> int:
        """Where the first row begins whose key is not before ``key``."""
        low, high = self._first, len(self._bytes)
        while low < high:
            middle = (low + high) // 2
            start = max(self._bytes.rfind(_END, low, middle) + 1, low)
            line = self._line(start)
            if line.partition(_CELL)[0] < key:
                low = start + len(line) + 1
            else:
                high = start
        return min(low, len(self._bytes))

    @cached_property
    def _begins(self) -> dict[bytes, int]:
        """Where the first row of each key begins."""
        begins: dict[bytes, int] = {}
        at = self._first
        for line in bytes(self._bytes[at:]).split(_END):
            begins.setdefault(line.partition(_CELL)[0], at)
            at += len(line) + 1
        begins.pop(b"", None)
        return begins

    def rows(self, key: str) -> list[tuple[str, ...]]:
        """The cells behind a key, one tuple for each of its rows; none where the key does not stand there."""
        if self._asked < _MANY:
            self._asked += 1
        elif key.encode() not in self._begins:
            return []
        return [row[1:] for row in takewhile(lambda row: row[0] == key, self.starting(key))]

    def starting(self, prefix: str) -> Iterator[tuple[str, ...]]:
        """Whole rows, key first, whose keys begin with some letters."""
        wanted = prefix.encode()
        at = self._seek(wanted)
        while at < len(self._bytes):
            line = self._line(at)
            if not line.startswith(wanted):
                return
            yield tuple(line.decode().split("\t"))
            at += len(line) + 1

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        """Every row, key first."""
        return self.starting("")


@lru_cache(maxsize=32)
def shared_table(file: Path) -> SortedTable:
    """The table of a file, one for all who ask."""
    return SortedTable(file)


def table_text(rows: Iterable[tuple[str, ...]], heading: Iterable[str] = ()) -> str:
    """Write rows as such a file: sorted, each once.

    :raises ValueError: a key is empty or looks like a heading, or a cell holds a tab, a line end or the like.
    """
    lines = sorted({"\t".join(row) for row in rows if _sound(row)})
    return "".join(f"{line}\n" for line in (*(f"# {line}" for line in heading), *lines))


def _sound(row: tuple[str, ...]) -> bool:
    if not row[0] or row[0].startswith("#") or any(letter < " " for cell in row for letter in cell):
        raise ValueError(f"no row of a sorted table: {row!r}")
    return True
