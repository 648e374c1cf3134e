"""The pieces of HTML that pages are made of.  Plain text goes in and is escaped here, unless a name says ``html``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from formula_vcs.reports.page.shell import escape

# how bad a finding is, as the style calls it
STYLES: Final = {"block": "bad", "warn": "warn", "note": "note"}
MOST_CAUSES: Final = 12
RANK: Final = {severity: rank for rank, severity in enumerate(STYLES)}


def tag(words: str, css: str) -> str:
    """Mark a state: the words carry it, ``css`` (good, bad, warn or note) gives the colour and the border."""
    return f'<span class="tag {css}">{escape(words)}</span>'


def paragraph(words: str, css: str = "") -> str:
    """Write a paragraph of plain text."""
    return f'<p class="{css}">{escape(words)}</p>' if css else f"<p>{escape(words)}</p>"


def items(html: Iterable[str], css: str = "") -> str:
    """Make a list of what is HTML already; nothing of nothing."""
    entries = "".join(f"<li>{entry}</li>" for entry in html)
    klass = f' class="{css}"' if css else ""
    return f"<ul{klass}>{entries}</ul>" if entries else ""


def table(
    caption: str,
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    numbers: Sequence[int] = (),
    notes: Sequence[str] = (),
    *,
    named: bool = False,
) -> str:
    """Make a table of plain text, the first cell of a row its head; columns in ``numbers`` stand at the right.

    ``notes`` has a small line for the head of each row, so that a table stays narrow enough for a phone.  ``named``
    says that a heading names it already, so that its caption need not be seen.
    """
    body = ((first, *map(escape, rest)) for first, *rest in rows)
    return html_table(caption, heads, body, numbers, notes, named=named)


def html_table(
    caption: str,
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    numbers: Sequence[int] = (),
    notes: Sequence[str] = (),
    *,
    named: bool = False,
) -> str:
    """Make a table as `table` does, of which all cells but the first of a row are HTML already."""
    hidden = ' class="seen-by-readers"' if named else ""
    css = [' class="n"' if column in numbers else "" for column in range(len(heads))]
    head = "".join(f'<th scope="col"{css[i]}>{escape(words)}</th>' for i, words in enumerate(heads))
    body = []
    for number, (first, *rest) in enumerate(rows):
        note = notes[number] if number < len(notes) else ""
        small = f' <span class="row-note">{escape(note)}</span>' if note else ""
        cells = "".join(f"<td{css[i]}>{words}</td>" for i, words in enumerate(rest, 1))
        body.append(f'<tr><th scope="row">{escape(first)}{small}</th>{cells}</tr>')
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(caption)}"><table>'
        f"<caption{hidden}>{escape(caption)}</caption><thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
    )


def folded(summary: str, html: str) -> str:
    """Fold HTML away under plain words."""
    return f"<details><summary>{escape(summary)}</summary>{html}</details>"


def cut(found: Sequence[str], most: int, name: str) -> list[str]:
    """Give the first of a list of HTML, and how many more there are, so that a page stays a page."""
    if len(found) <= most:
        return list(found)
    return [*found[:most], f'<span class="muted">and {len(found) - most} more {name}, left out here</span>']


def because(causes: Iterable[str], how: str = "because") -> str:
    """Name the changes that bring something, below it."""
    found = list(causes)
    lines = [f'<br><span class="because">{how} {escape(cause)}</span>' for cause in found[:MOST_CAUSES]]
    if len(found) > MOST_CAUSES:
        lines.append(f'<br><span class="muted">and {len(found) - MOST_CAUSES} more changes</span>')
    return "".join(lines)
