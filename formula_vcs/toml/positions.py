"""Where things stand in a TOML text: every key and value with its line, column and span.

A path is a tuple of keys, with numbers (from 0) for the elements of arrays and of arrays of tables:
``("phase", "A", "charge", "glycerin")``, ``("step", 2, "shear")``, ``("step", 0, "add", 1)``.
Lines and columns count from 1, offsets from 0, and all of them count characters.
"""

from __future__ import annotations

import gc
import tomllib
from contextlib import contextmanager
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

from formula_vcs.model.values import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tree_sitter import Node, Parser

Spot = tuple[int, int]
TextPath = tuple[str | int, ...]

# Characters from which the garbage collector rests while a text is read.  It takes three quarters of the
# time of a file with 90,000 headings (3.4 s of tomllib against 0.8 s), and there is no garbage.
LARGE: Final = 32 * 1024

_TABLES: Final = ("table", "table_array_element")


# Of one file, so that a file which is no TOML at all is not reported line by line.
MOST_ERRORS: Final = 20


class SyntaxProblem(NamedTuple):
    """What is wrong, at which line and column (both from 1; columns in characters)."""

    line: int
    column: int
    message: str
    rule: str = "syntax"


class TextSpan(NamedTuple):
    """From the first character to just behind the last: lines from 1, offsets from 0."""

    start_line: int
    end_line: int
    start: int
    end: int


class Double(NamedTuple):
    """A name given twice: its path, where it stands first, and where again, which may be a heading."""

    path: TextPath
    first: Spot
    again: Spot
    span: TextSpan
    heading: bool


@dataclass(frozen=True, slots=True)
class _Place:
    """``key`` is the last part of a name, or an element of an array; ``outer`` the pair, table or element.

    ``value`` is None for a table.  ``stated`` is False for a table that exists only as a part of another's
    name.
    """

    key: Node
    outer: Node
    value: Node | None
    stated: bool = True


def positions(text: str) -> Positions:
    """Find where everything stands.  A broken text gives what can be found."""
    return Positions(text)


def first_error(text: str) -> Spot | None:
    """Give the place of the first thing that is not TOML 1.0, or None."""
    found = Positions(text)
    nodes = [found.root]
    while nodes:
        node = nodes.pop()
        if node.is_error or node.is_missing:
            return found.spot(node)
        nodes += reversed([child for child in node.children if child.has_error])
    return None


@contextmanager
def collector_at_rest(much: bool) -> Iterator[None]:
    """Stop the garbage collector while much is made that stays: it would look through all of it again and again."""
    pause = much and gc.isenabled()
    if pause:
        gc.disable()
    try:
        yield
    finally:
        if pause:
            gc.enable()


class Positions:
    """The places of one text.  Arrays are looked into when something inside is asked for."""

    def __init__(self, text: str) -> None:
        """Parse the text."""
        self._bytes = text.encode("utf-8", "surrogatepass")
        self._text = text
        self._ascii = text.isascii()
        self._places: dict[TextPath, _Place] = {}
        self._lengths: dict[TextPath, int] = {}
        self._closed: dict[TextPath, Node] = {}
        self._doubles: list[tuple[TextPath, _Place]] = []
        self.root = _parser().parse(self._bytes).root_node
        with collector_at_rest(len(text) > LARGE):
            self._walk()

    def key(self, path: TextPath) -> Spot | None:
        """Give the line and column of a key, of a heading's last part, or of an array's element."""
        place = self._find(path)
        return None if place is None else self.spot(place.key)

    def value(self, path: TextPath) -> Spot | None:
        """Give the line and column of a value; of a table, its heading's."""
        place = self._find(path)
        return None if place is None else self.spot(place.value or place.key)

    def nearest(self, path: TextPath) -> Spot:
        """Give the place of the path, or of the longest beginning of it that exists, or (1, 1)."""
        for length in range(len(path), 0, -1):
            spot = self.key(path[:length])
            if spot is not None:
                return spot
        return 1, 1

    def span(self, path: TextPath) -> TextSpan | None:
        """Give the span of a pair (key to value), an element, or a table (heading to its last own pair).

        A table without a heading of its own, and an array of tables, span all that lies inside.
        """
        place = self._find(path)
        if place is None:
            return None
        if place.stated:
            return self._span(place.outer, _last_of(place))
        parts = [place for _, place in self._inside(path) if place.stated]
        return self._span(parts[0].outer, max((_last_of(part) for part in parts), key=lambda node: node.end_byte))

    def value_span(self, path: TextPath) -> TextSpan | None:
        """Give the span of a value alone; None for a table with a heading."""
        place = self._find(path)
        return None if place is None or place.value is None else self._span(place.value, place.value)

    def end_of_own(self, path: TextPath) -> int | None:
        """Give the offset behind the last pair of a table's own (of the head of the file for an empty path).

        None where a table has no heading, and where the head of the file has no pair.
        """
        if path:
            place = self._find(path)
            return None if place is None or not place.stated else self._span(place.outer, _last_of(place)).end
        pairs = [
            place
            for found, place in self._places.items()
            if place.value is not None and place.outer.parent == self.root
        ]
        return max((self._span(place.outer, place.value or place.outer).end for place in pairs), default=None)

    def members(self, path: TextPath) -> list[TextSpan]:
        """Give the spans of what stands directly in an array or an inline table, in the order of the file."""
        self._find((*path, 0))
        length = len(path)
        places = [place for found, place in self._inside(path) if len(found) == length + 1 and place.value is not None]
        return sorted({self._span(place.outer, _last_of(place)) for place in places}, key=lambda span: span.start)

    def headings(self, path: TextPath) -> list[TextSpan]:
        """Give the spans of the tables at and below a path, each from its heading to its last own pair."""
        places = [place for _, place in self._inside(path) if place.stated and place.value is None]
        return sorted({self._span(place.outer, _last_of(place)) for place in places}, key=lambda span: span.start)

    def paths(self) -> tuple[TextPath, ...]:
        """Give every path of the text, arrays looked into."""
        while self._closed:
            self._open(next(iter(self._closed)))
        return tuple(self._places)

    @property
    def doubles(self) -> list[Double]:
        """Give the names that are written twice, in the order of the file."""
        return [
            Double(
                path,
                first=self.spot(self._places[path].key),
                again=self.spot(again.key),
                span=self._span(again.outer, again.outer),
                heading=again.value is None,
            )
            for path, again in sorted(self._doubles, key=lambda double: double[1].key.start_byte)
        ]

    def spot(self, node: Node) -> Spot:
        """Give the line and column where a node of the tree begins."""
        row, column = node.start_point
        return row + 1, self._characters(node.start_byte, column) + 1

    def _characters(self, byte: int, column: int) -> int:
        """Count the characters of a line in front of a byte, ``column`` bytes into it."""
        return column if self._ascii else len(self._bytes[byte - column : byte].decode("utf-8", "surrogatepass"))

    def _span(self, first: Node, last: Node) -> TextSpan:
        (row, column), (end_row, end_column) = first.start_point, last.end_point
        start = self._line_starts[row] + self._characters(first.start_byte, column)
        end = self._line_starts[end_row] + self._characters(last.end_byte, end_column)
        return TextSpan(row + 1, end_row + 1, start, end)

    @cached_property
    def _line_starts(self) -> list[int]:
        starts = [0]
        for line in self._text.split("\n"):
            starts.append(starts[-1] + len(line) + 1)
        return starts

    def _inside(self, path: TextPath, *, below: bool = False) -> Iterator[tuple[TextPath, _Place]]:
        length = len(path)
        for found, place in self._places.items():
            if found[:length] == path and len(found) >= length + below:
                yield found, place

    def _find(self, path: TextPath) -> _Place | None:
        place = self._places.get(path)
        while place is None:
            closed = next((path[:end] for end in range(len(path)) if path[:end] in self._closed), None)
            if closed is None:
                return None
            self._open(closed)
            place = self._places.get(path)
        return place

    def _open(self, path: TextPath) -> None:
        array = self._closed.pop(path)
        elements = (child for child in array.named_children if child.type != "comment")
        for index, element in enumerate(elements):
            self._places[*path, index] = _Place(element, element, element)
            self._value((*path, index), element)

    def _walk(self) -> None:
        for node in self.root.children:
            if node.type == "pair":
                self._pair((), node)
            elif node.type in _TABLES:
                base = self._heading(node)
                for child in node.children if base is not None else ():
                    if child.type == "pair":
                        self._pair(base or (), child)

    def _heading(self, node: Node) -> TextPath | None:
        """Note a table's heading and give the path of what stands under it; None where it has no name."""
        parts = _parts(next((child for child in node.children if child.is_named), None))
        if not parts:
            return None
        path: TextPath = ()
        for name, key in parts[:-1]:
            path = (*path, name)
            self._places.setdefault(path, _Place(key, node, None, stated=False))
            if path in self._lengths:
                path = (*path, self._lengths[path] - 1)
        name, key = parts[-1]
        path = (*path, name)
        if node.type == "table_array_element":
            self._places.setdefault(path, _Place(key, node, None, stated=False))
            self._lengths[path] = self._lengths.get(path, 0) + 1
            path = (*path, self._lengths[path] - 1)
        self._note(path, _Place(key, node, None))
        return path

    def _note(self, path: TextPath, place: _Place) -> None:
        known = self._places.get(path)
        if known is None or not known.stated:
            self._places[path] = place
        else:
            self._doubles.append((path, place))

    def _pair(self, base: TextPath, pair: Node) -> None:
        """Note a pair and, with a list in place of recursion, the pairs of inline tables inside."""
        waiting = [(base, pair)]
        while waiting:
            path, node = waiting.pop()
            named = [child for child in node.children if child.is_named and child.type != "comment"]
            if len(named) < 2:
                continue
            parts = _parts(named[0])
            for name, key in parts[:-1]:
                path = (*path, name)
                self._places.setdefault(path, _Place(key, node, None, stated=False))
            if parts:
                path = (*path, parts[-1][0])
                self._note(path, _Place(parts[-1][1], node, named[1]))
                waiting += self._inner(path, named[1])

    def _inner(self, path: TextPath, value: Node) -> list[tuple[TextPath, Node]]:
        """Give the pairs of an inline table, last first; an array is kept closed."""
        if value.type == "array":
            self._closed.setdefault(path, value)
        elif value.type == "inline_table":
            return [(path, child) for child in reversed(value.children) if child.type == "pair"]
        return []

    def _value(self, path: TextPath, value: Node) -> None:
        for base, pair in reversed(self._inner(path, value)):
            self._pair(base, pair)


def _parts(key: Node | None) -> list[tuple[str, Node]]:
    """Take a key apart; ``a.b.c`` is a tree that leans to the left."""
    found: list[tuple[str, Node]] = []
    while key is not None:
        named = key.named_children if key.type == "dotted_key" else [key]
        if not named:
            break
        name = _name(named[-1])
        if name is not None:
            found.append((name, named[-1]))
        key = named[0] if len(named) > 1 else None
    return found[::-1]


def _name(key: Node) -> str | None:
    raw = (key.text or b"").decode("utf-8", "replace")
    if key.type == "bare_key":
        return raw
    if key.type != "quoted_key":
        return None
    if raw[0] == '"' and "\\" in raw:
        try:
            return next(iter(tomllib.loads(f"{raw}=0")))
        except tomllib.TOMLDecodeError:
            return raw[1:-1]
    return raw[1:-1]


def _last_of(place: _Place) -> Node:
    """Give the node that a place ends with: the tree's own pairs and tables end behind comments."""
    if place.value is not None:
        return place.value
    children = [child for child in place.outer.children if child.type in ("pair", "]", "]]")]
    last = children[-1] if children else place.outer
    if last.type != "pair":
        return last
    return [child for child in last.children if child.type != "comment"][-1]


@lru_cache(maxsize=1)
def _parser() -> Parser:
    import tree_sitter_toml
    from tree_sitter import Language, Parser

    return Parser(Language(tree_sitter_toml.language()))
