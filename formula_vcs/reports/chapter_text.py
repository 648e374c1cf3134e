"""A chapter of the manual on a terminal: paragraphs and lists folded to 80 columns, tables as lists, code as it is."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Final

from formula_vcs.reports.terminal import WIDTH, columns, folded, left
from formula_vcs.setup.chapters import Chapter

_FENCE: Final = re.compile(r"^\s*```")
_HEADING: Final = re.compile(r"^(#+) (.*)$")
_ITEM: Final = re.compile(r"^( *)([-*]|\d+\.) +(.*)$")
_LINK: Final = re.compile(r"\[([^\]]+)\]\(([^)]+)\)")
_CHAPTER: Final = re.compile(r"`formula_vcs/manual/([\w-]+)\.md`")
_CELL: Final = re.compile(r"(?<!\\)\|")
_RULE: Final = re.compile(r"^[|\s:-]+$")
_REMARK: Final = re.compile(r"^(.*?)\s*# (.*)$")
_INDENT: Final = "    "
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
    return "\n".join(_without_double_blanks(_laid_out(markdown.splitlines()))).strip("\n") + "\n"


def _without_double_blanks(lines: Iterable[str]) -> Iterator[str]:
    for line, same in groupby(lines):
        yield from [line] if not line else same


def _laid_out(lines: list[str]) -> Iterator[str]:
    at = 0
    while at < len(lines):
        end = _end(lines, at)
        yield from _block(lines[at:end])
        at = end


def _end(lines: list[str], at: int) -> int:
    """Find where the block that begins at a line ends."""
    line, end = lines[at], at + 1
    if _FENCE.match(line):
        while end < len(lines) and not _FENCE.match(lines[end]):
            end += 1
        return end + 1
    if not line.strip() or _HEADING.match(line) or line.startswith("<!--"):
        return end
    while end < len(lines) and _goes_on(line, lines[end]):
        end += 1
    return end


def _goes_on(first: str, line: str) -> bool:
    if not line.strip() or _HEADING.match(line) or _FENCE.match(line):
        return False
    if first.startswith("|"):
        return line.startswith("|")
    if first.startswith(_INDENT):
        return line.startswith(_INDENT)
    return not _ITEM.match(line) and not line.startswith("|")


def _block(block: list[str]) -> Iterator[str]:
    first = block[0]
    heading = _HEADING.match(first)
    if _FENCE.match(first):
        yield ""
        inner = [line for line in block[1:] if not _FENCE.match(line)]
        yield from _sample(inner, " \\" if first.strip() == "```sh" else "")
        yield ""
    elif heading:
        yield from _headed(_spoken(heading[2]), len(heading[1]))
    elif first.startswith("|"):
        yield from _table(block)
    elif first.startswith("<!--"):
        return
    elif first.startswith(_INDENT) and not _ITEM.match(first):
        yield from _sample([line.removeprefix(_INDENT) for line in block])
    else:
        yield from _paragraph(block)


def _sample(lines: list[str], goes_on: str = "") -> Iterator[str]:
    """Give what is typed or printed as it is, set in as far as it fits; a line too wide for that is folded."""
    split = [part for line in lines for part in _with_remark_above(line)]
    fitting = [columns(line) for line in split if columns(line) <= WIDTH]
    lead = " " * min(len(_INDENT), WIDTH - max(fitting, default=0))
    for line in split:
        if columns(line) <= WIDTH:
            yield f"{lead}{line}".rstrip()
        else:
            yield from _folded_sample(line, lead, goes_on)


def _with_remark_above(line: str) -> list[str]:
    remark = _REMARK.match(line)
    if remark is None or columns(line) + len(_INDENT) <= WIDTH:
        return [line]
    lead = f"{' ' * (len(line) - len(line.lstrip()))}# "
    room = WIDTH - len(_INDENT) - len(lead)
    return [*(f"{lead}{part}" for part in folded(remark[2], room, room)), *([remark[1]] if remark[1] else [])]


def _folded_sample(line: str, lead: str, goes_on: str) -> Iterator[str]:
    words = line.lstrip()
    first = lead + " " * (columns(line) - columns(words))
    rest = first + _INDENT
    room = WIDTH - len(goes_on)
    parts = folded(words, room - len(first), room - len(rest))
    for at, part in enumerate(parts):
        yield f"{rest if at else first}{part}{goes_on if at < len(parts) - 1 else ''}"


def _headed(title: str, level: int) -> Iterator[str]:
    yield from ("", *folded(title, WIDTH, WIDTH))
    if level in _UNDER:
        yield _UNDER[level] * min(columns(title), WIDTH)
    yield ""


def _paragraph(block: list[str]) -> Iterator[str]:
    item = _ITEM.match(block[0])
    lead = f"{item[1]}{item[2]} " if item else ""
    words = _spoken(" ".join([item[3] if item else block[0], *block[1:]]))
    yield from _hung(words, lead, " " * len(lead))


def _hung(words: str, lead: str, rest: str) -> Iterator[str]:
    lines = folded(words, WIDTH - len(lead), WIDTH - len(rest)) or [""]
    yield f"{lead}{lines[0]}".rstrip()
    yield from (f"{rest}{line}" for line in lines[1:])


def _table(block: list[str]) -> Iterator[str]:
    """Say each row below its first cell; the heads of the other columns lead their cells where there are several."""
    rows = [[_spoken(cell.strip()) for cell in _CELL.split(line.strip().strip("|"))] for line in block]
    heads, body = rows[0], [cells for line, cells in zip(block[1:], rows[1:], strict=True) if not _RULE.match(line)]
    for cells in body:
        yield from _hung(cells[0], "  ", "    ")
        for head, cell in zip(heads[1:], cells[1:], strict=False):
            if cell:
                yield from _hung(cell, f"      {head}: " if len(heads) > 2 and head else "      ", "        ")
    yield ""


def _spoken(words: str) -> str:
    """Take out the marks of Markdown that a reader of plain text has no use for."""
    words = _CHAPTER.sub(r"`git formula help \1`", words)
    linked = _LINK.sub(lambda found: found[1] if found[1] == found[2] else f"{found[1]} ({found[2]})", words)
    return linked.replace("**", "").replace("\\|", "|")
