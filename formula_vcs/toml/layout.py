"""How files of a workspace are laid out: = under =, texts in quotes.

Offsets count characters.  A comment belongs to the heading or to the pair that it touches; one with blank lines on
both sides belongs to nobody and stays where it is.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from formula_vcs.model.values import dataclass
from formula_vcs.toml.edit import key_text, spelled
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.toml.syntax import Parsed, parse, positions
from formula_vcs.words.late_pattern import late_pattern

if TYPE_CHECKING:
    from formula_vcs.toml.positions import TextPath, TextSpan


# --- How a TOML text is laid out: its pairs, and its blocks, each a heading with the comments above it and its own
# pairs


_REST: Final = late_pattern(r"[^\n]*")
_COMMENT: Final = late_pattern(r"[ \t]*#[^\n]*(?:\n|\Z)")


@dataclass(frozen=True, slots=True)
class Block:
    """A heading with its own pairs.

    ``start`` is where its comments begin, ``heading`` where its own line does, ``body`` is behind its last line, and
    ``end`` where the next block starts: between the two stand blank lines and comments that belong to nobody.
    """

    path: TextPath
    start: int
    heading: int
    body: int
    end: int


class Layout:
    """One text that parses; raises `CannotWrite` for another."""

    def __init__(self, text: str) -> None:
        """Read the text."""
        parsed: Parsed = parse(text.encode("utf-8", "surrogateescape"))
        if parsed.errors:
            raise CannotWrite(f"line {parsed.errors[0].line}: {parsed.errors[0].message}")
        self.text = text
        self.data = parsed.data
        self.newline = "\r\n" if "\r\n" in text else "\n"
        self.place = positions(text)

    def node(self, path: TextPath) -> Any:
        """Give the data at a path that exists."""
        found: Any = self.data
        for part in path:
            found = found[part]
        return found

    @cached_property
    def pairs(self) -> dict[TextPath, TextSpan]:
        """Give the pairs that stand in lines of their own, not inside another's value, in the order of the text."""
        spans = [
            (span, path)
            for path in self.place.paths()
            if path and isinstance(path[-1], str) and self.place.value_span(path) is not None
            for span in [self.place.span(path)]
            if span is not None
        ]
        found: dict[TextPath, TextSpan] = {}
        behind = 0
        for span, path in sorted(spans, key=lambda pair: (pair[0].start, -pair[0].end)):
            if span.start >= behind:
                found[path] = span
                behind = span.end
        return found

    @cached_property
    def blocks(self) -> list[Block]:
        """Give the head of the file, with an empty path, and then every heading."""
        found = [
            (span, path)
            for path in self.place.paths()
            if self.place.value_span(path) is None and self.place.end_of_own(path) is not None
            for span in [self.place.span(path)]
            if span is not None
        ]
        ordered = sorted(found)
        ends = [self.place.end_of_own(()) or 0, *(span.end for span, _ in ordered)]
        starts = [0, *(self._top(span.start, ends[index]) for index, (span, _) in enumerate(ordered))]
        starts.append(len(self.text))
        heads = [0, *(self.line(span.start) for span, _ in ordered)]
        paths = [(), *(path for _, path in ordered)]
        return [
            Block(path, starts[index], heads[index], self._body(ends[index], starts[index + 1]), starts[index + 1])
            for index, path in enumerate(paths)
        ]

    @cached_property
    def by_path(self) -> dict[TextPath, Block]:
        """Give the blocks by their paths."""
        return {block.path: block for block in self.blocks}

    @cached_property
    def _starts(self) -> list[int]:
        return [block.start for block in self.blocks]

    def block_at(self, offset: int) -> Block:
        """Give the block that an offset lies in."""
        return self.blocks[bisect_right(self._starts, offset) - 1]

    def inside(self, path: TextPath) -> list[Block]:
        """Give the blocks at and below a path."""
        return [block for block in self.blocks if block.path and block.path[: len(path)] == path]

    def group(self, path: TextPath) -> tuple[int, int]:
        """Give the start and the body's end of a table with all below it, which must stand together."""
        found = self.inside(path)
        if not found or any(left.end != right.start for left, right in pairwise(found)):
            raise CannotWrite(f"'{'/'.join(map(str, path))}' does not stand in one place")
        return found[0].start, found[-1].body

    def line(self, offset: int) -> int:
        """Give where the line of an offset begins."""
        return self.text.rfind("\n", 0, offset) + 1

    def line_end(self, offset: int) -> int:
        """Give the offset behind the line of an offset, its newline included."""
        found = self.text.find("\n", offset)
        return len(self.text) if found < 0 else found + 1

    def tail(self, offset: int) -> str:
        """Give what stands behind a value in its line: blanks, a comma, a comment."""
        found = _REST.match(self.text, offset)
        return found.group().rstrip("\r") if found is not None else ""

    def comments_above(self, offset: int) -> list[str]:
        """Give the lines of comment that touch the line of an offset from above."""
        line = self.line(offset)
        return self.text[self._top(offset, 0) : line].splitlines()

    def _top(self, offset: int, floor: int) -> int:
        """Give where the comments begin that touch the line of an offset; those that open the file are its own."""
        line = top = self.line(offset)
        while top > floor:
            above = self.line(top - 1)
            if above < floor or _COMMENT.fullmatch(self.text, above, top) is None:
                return top
            top = above
        return line if top == 0 else top

    def _body(self, end: int, most: int) -> int:
        """Give the offset behind the last line of a block, with the comments that touch it from below."""
        body = self.line_end(end) if end else 0
        while body < most:
            found = _COMMENT.match(self.text, body)
            if found is None or found.end() > most:
                break
            body = found.end()
        return min(body, most)


# --- Write tables that stand nowhere yet, as the files of a workspace are laid out: = under =, texts in quotes


def heading(path: tuple[str, ...], *, row: bool = False) -> str:
    """Write the heading of a table, or of a row of an array of tables."""
    name = ".".join(map(key_text, path))
    return f"[[{name}]]" if row else f"[{name}]"


def table(path: tuple[str, ...], data: dict[str, Any], *, row: bool = False) -> str:
    """Write a table with its heading; phases and their charges get headings of their own."""
    inner = {key: value for key, value in data.items() if not row and _headed((*path, key), value)}
    pairs = {key: value for key, value in data.items() if key not in inner}
    width = max((len(key_text(key)) for key in pairs), default=0)
    lines = [f"{key_text(key).ljust(width)} = {spelled(value)}\n" for key, value in pairs.items()]
    parts = [f"{heading(path, row=row)}\n{''.join(lines)}"] if pairs or not inner else []
    return "\n".join([*parts, *(table((*path, key), value) for key, value in inner.items())])


def _headed(path: tuple[str, ...], value: Any) -> bool:
    return isinstance(value, dict) and (len(path) == 1 or (path[0] == "phase" and len(path) <= 3))
