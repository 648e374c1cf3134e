"""A chapter taken apart: the blocks and the spans of the Markdown that the manual is written in, and no other."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final, Literal

from formula_vcs.model.values import dataclass
from formula_vcs.words.late_pattern import late_pattern

Kind = Literal["heading", "code", "item", "table", "paragraph", "blank", "comment"]

FENCE: Final = late_pattern(r"^\s*```(\w*)")
HEADING: Final = late_pattern(r"^(#+) (.*)$")
ITEM: Final = late_pattern(r"^( *)([-*]|\d+\.) +(.*)$")
INDENT: Final = "    "
_CHAPTER: Final = late_pattern(r"formula_vcs/manual/([\w-]+)\.md")
_CELL: Final = late_pattern(r"(?<!\\)\|")
_RULE: Final = late_pattern(r"^[|\s:-]+$")
_SPAN: Final = late_pattern(
    r"(?P<code>`+)(?P<inside>.+?)(?P=code)(?!`)|\[(?P<words>[^\]]+)\]\((?P<to>[^)]+)\)"
    r"|\*\*(?P<strong>.+?)\*\*|(?<![\w*])\*(?P<em>[^*\s](?:[^*]*[^*\s])?)\*(?![\w*])|\\(?P<escaped>[\\`*_{}\[\]<>|#+.!-])"
)


@dataclass(frozen=True, slots=True)
class ChapterBlock:
    """One block: its kind and its lines without their marks.

    ``level`` is that of a heading, or the blanks before an item; ``mark`` the language of code, or what an item begins
    with.
    """

    kind: Kind
    lines: tuple[str, ...]
    level: int = 0
    mark: str = ""

    @property
    def words(self) -> str:
        """The lines as one."""
        return " ".join(line.strip() for line in self.lines)


@dataclass(frozen=True, slots=True)
class MarkedSpan:
    """A piece of a line: "text", "code", "strong", "em" or "link", which leads ``to`` somewhere."""

    kind: str
    text: str
    to: str = ""


def blocks(markdown: str) -> Iterator[ChapterBlock]:
    """Take a chapter apart."""
    lines = markdown.splitlines()
    at = 0
    while at < len(lines):
        end = _end(lines, at)
        yield _block(lines[at:end])
        at = end


def _end(lines: list[str], at: int) -> int:
    """Find where the block that begins at a line ends."""
    line, end = lines[at], at + 1
    if FENCE.match(line):
        while end < len(lines) and not FENCE.match(lines[end]):
            end += 1
        return end + 1
    if not line.strip() or HEADING.match(line) or line.startswith("<!--"):
        return end
    while end < len(lines) and _goes_on(line, lines[end]):
        end += 1
    return end


def _goes_on(first: str, line: str) -> bool:
    if not line.strip() or HEADING.match(line) or FENCE.match(line):
        return False
    if first.startswith("|"):
        return line.startswith("|")
    if first.startswith(INDENT) and not ITEM.match(first):
        return line.startswith(INDENT)
    return not ITEM.match(line) and not line.startswith("|")


def _block(lines: list[str]) -> ChapterBlock:
    first = lines[0]
    fence, heading, item = FENCE.match(first), HEADING.match(first), ITEM.match(first)
    if fence:
        return ChapterBlock("code", tuple(line for line in lines[1:] if not FENCE.match(line)), mark=fence[1])
    if heading:
        return ChapterBlock("heading", (heading[2],), len(heading[1]))
    if first.startswith("|"):
        return ChapterBlock("table", tuple(lines))
    if first.startswith("<!--"):
        return ChapterBlock("comment", tuple(lines))
    if item:
        return ChapterBlock("item", (item[3], *lines[1:]), len(item[1]), item[2])
    if first.startswith(INDENT):
        return ChapterBlock("code", tuple(line.removeprefix(INDENT) for line in lines))
    return ChapterBlock("paragraph" if first.strip() else "blank", tuple(lines))


def rows(table: Sequence[str]) -> list[list[str]]:
    """Give the rows of a table as cells in Markdown, the heads first."""
    return [
        [cell.strip() for cell in _CELL.split(line.strip().removeprefix("|").removesuffix("|"))]
        for at, line in enumerate(table)
        if at != 1 or not _RULE.match(line)
    ]


def spans(words: str) -> Iterator[MarkedSpan]:
    """Take a line apart; the file of a chapter becomes a link to it."""
    at = 0
    for found in _SPAN.finditer(words):
        if found.start() > at:
            yield MarkedSpan("text", words[at : found.start()])
        yield _span(found)
        at = found.end()
    if at < len(words):
        yield MarkedSpan("text", words[at:])


def _span(found: re.Match[str]) -> MarkedSpan:
    if found["code"]:
        inside = found["inside"].replace("\\|", "|")
        chapter = _CHAPTER.fullmatch(inside)
        return MarkedSpan("link", chapter[1], f"#{chapter[1]}") if chapter else MarkedSpan("code", inside)
    if found["words"]:
        return MarkedSpan("link", found["words"], found["to"])
    if found["escaped"]:
        return MarkedSpan("text", found["escaped"])
    return MarkedSpan("strong", found["strong"]) if found["strong"] else MarkedSpan("em", found["em"])
