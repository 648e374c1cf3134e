"""Where somebody types: the table, the key and the words there, also in a text that is not TOML at the moment."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from formula_vcs.words.late_pattern import late_pattern

_HEADING: Final = late_pattern(r"^\s*(\[\[?)\s*([^\]]*)")
_PART: Final = late_pattern(r'"([^"\\]*)"|\'([^\']*)\'|([\w-]+)')
_PAIR: Final = late_pattern(r'^\s*((?:"[^"]*"|\'[^\']*\'|[\w-]+)(?:\s*\.\s*(?:"[^"]*"|\'[^\']*\'|[\w-]+))*)\s*=')
_WORD: Final = late_pattern(r'"[^"]*"?|\'[^\']*\'?|[^\s,={}\[\]#"\']+')
_INNER_KEY: Final = late_pattern(r"[{,]\s*([\w-]+)\s*=\s*[^,{}]*$")
ROW: Final = "[]"


class Caret(NamedTuple):
    """The place of a position: the path of its table, the key of its line, whether it stands behind the "=".

    ``inner`` is the key inside an inline table, ``in_table`` says whether it stands in one.  ``word`` is the word there
    without quotes, from ``start`` to ``end`` (characters of the line, from 0, quotes counted in).
    """

    table: tuple[str, ...]
    key: tuple[str, ...]
    in_value: bool
    inner: str
    in_table: bool
    word: str
    start: int
    end: int
    row: int

    @property
    def path(self) -> tuple[str, ...]:
        """Give the path of the key."""
        return (*self.table, *self.key, *((self.inner,) if self.inner else ()))


def caret(text: str, line: int, column: int) -> Caret:
    """Find what stands at a position: ``line`` from 0, ``column`` in characters from 0."""
    lines = text.split("\n")
    here = lines[line].rstrip("\r") if line < len(lines) else ""
    table, row = _table(lines[: line + 1], at_heading=_HEADING.match(here) is not None)
    pair = _PAIR.match(here)
    behind = pair is not None and column >= pair.end()
    before = here[:column]
    open_table = behind and before.count("{") > before.count("}")
    inner = _INNER_KEY.search(before) if open_table else None
    word, start, end = _word(here, column)
    key = tuple(_parts(pair[1])) if pair else ()
    return Caret(table, key, behind, inner[1] if inner else "", open_table, word, start, end, row)


def _table(lines: list[str], *, at_heading: bool) -> tuple[tuple[str, ...], int]:
    del at_heading
    for at in range(len(lines) - 1, -1, -1):
        found = _HEADING.match(lines[at])
        if found and not _PAIR.match(lines[at]):
            path = tuple(_parts(found[2]))
            if found[1] == "[[":
                same = sum(1 for line in lines[: at + 1] if line.strip() == lines[at].strip())
                return (*path, ROW), same - 1
            return path, 0
    return (), 0


def _parts(name: str) -> Iterator[str]:
    for found in _PART.finditer(name):
        yield next(part for part in found.groups() if part is not None)


def _word(line: str, column: int) -> tuple[str, int, int]:
    for found in _WORD.finditer(line):
        if found.start() <= column <= found.end():
            return found[0].strip("\"'"), found.start(), found.end()
    return "", column, column


def word_at(line: str, column: int) -> tuple[int, int]:
    """Give from where to where the word at a column (from 0) goes; one character where there is none."""
    for found in _WORD.finditer(line):
        if found.start() <= column < found.end():
            return found.start(), found.end()
    return column, min(column + 1, max(len(line), column))


class ClientColumns:
    """Columns as a client counts them: in UTF-16 units unless it agreed on others."""

    def __init__(self, encoding: str) -> None:
        """Take the encoding: utf-8, utf-16 or utf-32."""
        self._encoding = encoding

    def to_client(self, line: str, column: int) -> int:
        """Count the units before a character."""
        return sum(map(self._units, line[:column]))

    def from_client(self, line: str, units: int) -> int:
        """Find the character that begins at so many units, or that they fall into."""
        seen = 0
        for at, character in enumerate(line):
            if seen >= units:
                return at
            seen += self._units(character)
        return len(line)

    def _units(self, character: str) -> int:
        if self._encoding == "utf-8":
            return len(character.encode("utf-8", "surrogatepass"))
        return 2 if self._encoding == "utf-16" and ord(character) > 0xFFFF else 1
