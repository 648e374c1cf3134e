"""A chapter of the manual on a terminal: paragraphs and lists folded to 80 columns, tables as lists, code as it is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Final

from formula_vcs.reports.manual.blocks import INDENT, ChapterBlock, MarkedSpan, blocks, rows, spans
from formula_vcs.reports.terminal import WIDTH, columns, folded, left
from formula_vcs.setup.shipped import Chapter
from formula_vcs.words.late_pattern import late_pattern

_REMARK: Final = late_pattern(r"^(.*?)\s*# (.*)$")
_UNDER: Final = {1: "=", 2: "-"}


def contents(chapters: Iterable[Chapter]) -> str:
    """List the chapters, one a line: how each is asked for, and what it is about."""
    listed = list(chapters)
    wide = max((columns(chapter.topic) for chapter in listed), default=0)
    lines = [f"  {left(chapter.topic, wide)}  {chapter.title}" for chapter in listed]
    more = ["", "'git formula help TOPIC' prints one; 'git formula -h' lists the commands."]
    return "\n".join(["The chapters of the manual:", "", *lines, *more, ""])


def plain(markdown: str) -> str:
    """Lay a chapter out as plain text."""
    return "\n".join(_without_double_blanks(_laid_out(blocks(markdown)))).strip("\n") + "\n"


def _without_double_blanks(lines: Iterable[str]) -> Iterator[str]:
    for line, same in groupby(lines):
        yield from [line] if not line else same


def _laid_out(chapter: Iterable[ChapterBlock]) -> Iterator[str]:
    for block in chapter:
        if block.kind == "code":
            yield ""
            yield from _sample(list(block.lines), " \\" if block.mark == "sh" else "")
            yield ""
        elif block.kind == "heading":
            yield from _headed(_spoken(block.words), block.level)
        elif block.kind == "table":
            yield from _table(block)
        elif block.kind != "comment":
            yield from _paragraph(block)


def _sample(lines: list[str], goes_on: str = "") -> Iterator[str]:
    """Give what is typed or printed as it is, set in as far as it fits; a line too wide for that is folded."""
    split = [part for line in lines for part in _with_remark_above(line)]
    fitting = [columns(line) for line in split if columns(line) <= WIDTH]
    lead = " " * min(len(INDENT), WIDTH - max(fitting, default=0))
    for line in split:
        if columns(line) <= WIDTH:
            yield f"{lead}{line}".rstrip()
        else:
            yield from _folded_sample(line, lead, goes_on)


def _with_remark_above(line: str) -> list[str]:
    remark = _REMARK.match(line)
    if remark is None or columns(line) + len(INDENT) <= WIDTH:
        return [line]
    lead = f"{' ' * (len(line) - len(line.lstrip()))}# "
    room = WIDTH - len(INDENT) - len(lead)
    return [*(f"{lead}{part}" for part in folded(remark[2], room, room)), *([remark[1]] if remark[1] else [])]


def _folded_sample(line: str, lead: str, goes_on: str) -> Iterator[str]:
    words = line.lstrip()
    first = lead + " " * (columns(line) - columns(words))
    rest = first + INDENT
    room = WIDTH - len(goes_on)
    parts = folded(words, room - len(first), room - len(rest))
    for at, part in enumerate(parts):
        yield f"{rest if at else first}{part}{goes_on if at < len(parts) - 1 else ''}"


def _headed(title: str, level: int) -> Iterator[str]:
    yield from ("", *folded(title, WIDTH, WIDTH))
    if level in _UNDER:
        yield _UNDER[level] * min(columns(title), WIDTH)
    yield ""


def _paragraph(block: ChapterBlock) -> Iterator[str]:
    lead = f"{' ' * block.level}{block.mark} " if block.kind == "item" else ""
    yield from _hung(_spoken(block.words), lead, " " * len(lead))


def _hung(words: str, lead: str, rest: str) -> Iterator[str]:
    lines = folded(words, WIDTH - len(lead), WIDTH - len(rest)) or [""]
    yield f"{lead}{lines[0]}".rstrip()
    yield from (f"{rest}{line}" for line in lines[1:])


def _table(block: ChapterBlock) -> Iterator[str]:
    """Say each row below its first cell; the heads of the other columns lead their cells where there are several."""
    heads, *body = ([_spoken(cell) for cell in row] for row in rows(block.lines))
    for cells in body:
        yield from _hung(cells[0], "  ", "    ")
        for head, cell in zip(heads[1:], cells[1:], strict=False):
            if cell:
                yield from _hung(cell, f"      {head}: " if len(heads) > 2 and head else "      ", "        ")
    yield ""


def _spoken(words: str) -> str:
    """Take out the marks of Markdown that a reader of plain text has no use for."""
    return "".join(_said(span) for span in spans(words))


def _said(span: MarkedSpan) -> str:
    if span.kind == "code":
        return f"`{span.text}`"
    if span.kind in ("strong", "em"):
        return _spoken(span.text)
    if span.kind == "link" and span.to.startswith("#"):
        return f"`git formula help {span.to[1:]}`"
    return f"{span.text} ({span.to})" if span.kind == "link" and span.to != span.text else span.text
