"""The whole manual as one page: nothing is fetched, so it can be mailed, printed, or read where there is no network."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.manual.blocks import ChapterBlock, MarkedSpan, blocks, rows, spans
from formula_vcs.reports.page.shell import document, escape
from formula_vcs.setup.shipped import Chapter
from formula_vcs.words.late_pattern import late_pattern

_FORMS: Final = {"code": "code", "strong": "strong", "em": "em"}
_ADDRESS: Final = late_pattern(r"https?://[^\s\"<>]+")
_DEEPEST: Final = 6


def manual(chapters: Mapping[str, Chapter], version: str) -> str:
    """Give the page: what there is, then every chapter."""
    listed = "".join(
        f'<li><a href="#{escape(topic)}">{escape(one.title)}</a> <span class="muted">{escape(topic)}</span></li>'
        for topic, one in chapters.items()
    )
    parts = "\n".join(
        f'<section class="sheet manual" id="{escape(topic)}">{_html(blocks(one.text), topic)}</section>'
        for topic, one in chapters.items()
    )
    return document(
        "The manual of git formula",
        Markup(
            '<a class="skip" href="#content">To the chapters</a><header><h1>The manual of git formula</h1>'
            f'<p class="muted">formula_vcs {escape(version)}</p></header>\n'
            f'<nav aria-label="Chapters"><ul class="contents">{listed}</ul></nav>\n'
            f'<main id="content">{parts}</main>'
        ),
    )


def body(markdown: str) -> str:
    """Give a text without the page around it."""
    return _html(blocks(markdown), "")


def _html(found: Iterable[ChapterBlock], topic: str) -> str:
    """Write blocks, the items that follow each other as one list; a title is one level below that of the page."""
    written: list[str] = []
    items: list[ChapterBlock] = []
    headings = 0
    for block in found:
        if block.kind == "item" or (items and block.kind == "blank"):
            items += [block] if block.kind == "item" else []
            continue
        written += _list(items)
        items = []
        if block.kind == "heading":
            headings += 1
            level = min(block.level + 1 if topic else block.level, _DEEPEST)
            named = f' id="{escape(topic)}-{headings}"' if topic else ""
            written.append(f"<h{level}{named}>{_words(block.words)}</h{level}>")
        else:
            written += _block(block)
    return "\n".join([*written, *_list(items)])


def _block(block: ChapterBlock) -> Iterator[str]:
    if block.kind == "code":
        code = "".join(f"{escape(line)}\n" for line in block.lines)
        yield f'<pre tabindex="0"><code>{code}</code></pre>'
    elif block.kind == "table":
        heads, *lines = rows(block.lines)
        top = "".join(f'<th scope="col">{_words(cell)}</th>' for cell in heads)
        rest = "".join(f"<tr>{''.join(f'<td>{_words(cell)}</td>' for cell in cells)}</tr>\n" for cells in lines)
        yield (
            '<div class="wide" tabindex="0" role="region" aria-label="Table">'
            f"<table><thead><tr>{top}</tr></thead>\n<tbody>{rest}</tbody></table></div>"
        )
    elif block.kind == "paragraph":
        yield f"<p>{_words(block.words)}</p>"


def _list(items: Sequence[ChapterBlock]) -> Iterator[str]:
    """Write items as a list, those that stand further in as a list of the one above."""
    at = 0
    while at < len(items):
        first = items[at]
        ordered = first.mark not in "-*"
        entries: list[str] = []
        while at < len(items) and items[at].level <= first.level and (items[at].mark not in "-*") == ordered:
            inner = at + 1
            while inner < len(items) and items[inner].level > first.level:
                inner += 1
            below = "".join(_list(items[at + 1 : inner]))
            entries.append(f"<li>{_words(items[at].words)}{below}</li>")
            at = inner
        tag = "ol" if ordered else "ul"
        yield f"<{tag}>{''.join(entries)}</{tag}>"


def _words(words: str) -> str:
    return "".join(_span(span) for span in spans(words))


def _span(span: MarkedSpan) -> str:
    if span.kind == "link":
        known = span.to.startswith("#") or _ADDRESS.fullmatch(span.to)
        return f'<a href="{escape(span.to)}">{_words(span.text)}</a>' if known else _words(span.text)
    if span.kind == "code":
        return f"<code>{escape(span.text)}</code>"
    if span.kind in _FORMS:
        return f"<{_FORMS[span.kind]}>{_words(span.text)}</{_FORMS[span.kind]}>"
    return escape(span.text)
