"""A chapter as a page for ``man``, in the macros man(7) that every system formats."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from formula_vcs.reports.manual.blocks import ChapterBlock, MarkedSpan, blocks, rows, spans
from formula_vcs.setup.shipped import Chapter
from formula_vcs.words.late_pattern import late_pattern

_ESCAPES: Final = str.maketrans({"\\": "\\e", "-": "\\-", "'": "\\(aq", "^": "\\(ha", "~": "\\(ti", "`": "\\(ga"})
_FONTS: Final = {"code": "B", "strong": "B", "em": "I"}
_TERM: Final = late_pattern(r"^(`[^`]+`(?:(?:, | or )`[^`]+`)*): (.*)$", re.DOTALL)


def page(chapter: Chapter, version: str) -> str:
    """Give a chapter as a page of section 7."""
    head = [
        f'.TH GIT\\-FORMULA\\-{_text(chapter.topic.upper())} 7 "" "formula_vcs {version}"',
        ".SH NAME",
        f"git\\-formula\\-{_text(chapter.topic)} \\- {_text(chapter.title)}",
        ".SH DESCRIPTION",
    ]
    return "\n".join([*head, *body(chapter.text.partition("\n")[2])]) + "\n"


def body(markdown: str) -> Iterator[str]:
    """Give the lines of a text without its title."""
    for block in blocks(markdown):
        yield from _written(block)


def _written(block: ChapterBlock) -> Iterator[str]:
    if block.kind == "heading":
        yield f".{'SH' if block.level < 3 else 'SS'} {_quoted(_plain(block.words))}"
    elif block.kind == "code":
        yield from (".PP", ".RS 4", ".nf", *(_line(line) for line in block.lines), ".fi", ".RE")
    elif block.kind == "item":
        term = _TERM.match(block.words)
        if term and block.mark in "-*":
            yield from (".TP", _line(term[1], marked=True), _line(term[2], marked=True))
        else:
            mark = "\\(bu" if block.mark in "-*" else _text(block.mark)
            yield from (f'.IP "{mark}" 4', _line(block.words, marked=True))
    elif block.kind == "table":
        yield from _table(block)
    elif block.kind == "paragraph":
        yield from (".PP", _line(block.words, marked=True))


def _table(block: ChapterBlock) -> Iterator[str]:
    heads, *lines = rows(block.lines)
    for cells in lines:
        yield from (".TP", _line(cells[0], marked=True))
        for head, cell in zip(heads[1:], cells[1:], strict=False):
            if cell:
                yield _line(f"{head}: {cell}" if len(heads) > 2 and head else cell, marked=True)
                yield ".br"


def _line(words: str, *, marked: bool = False) -> str:
    """Give a line of text; one that begins like a request stays text."""
    text = "".join(_spoken(span) for span in spans(words)) if marked else _text(words)
    return f"\\&{text}" if text.startswith((".", "\\(aq")) or not text else text


def _spoken(span: MarkedSpan) -> str:
    if span.kind == "link":
        chapter = span.to.startswith("#")
        return f"\\fBgit formula help {_text(span.to[1:])}\\fR" if chapter else f"{_text(span.text)} ({_text(span.to)})"
    if span.kind in ("strong", "em"):
        return f"\\f{_FONTS[span.kind]}{_text(_plain(span.text))}\\fR"
    return f"\\f{_FONTS[span.kind]}{_text(span.text)}\\fR" if span.kind in _FONTS else _text(span.text)


def _plain(words: str) -> str:
    return "".join(span.text for span in spans(words))


def _text(words: str) -> str:
    return "".join(c if c.isascii() else f"\\[u{ord(c):04X}]" for c in words.translate(_ESCAPES))


def _quoted(words: str) -> str:
    return '"' + _text(words).replace('"', "\\(dq") + '"'
