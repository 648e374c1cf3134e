"""Inline SVG that every picture is made of: a frame with its words for readers, bars, lines and text."""

from __future__ import annotations

from collections.abc import Iterable

from formula_vcs.reports.page.shell import escape


def picture(title: str, words: str, height: float, shapes: Iterable[str], *, width: str = "100%", css: str = "") -> str:
    """Frame shapes as one picture; ``title`` names it and ``words`` say what it shows, both plain text.

    ``height`` is in pixels; ``width`` is in percent of the place, or in pixels for a picture that does not stretch.
    """
    klass = f' class="{css}"' if css else ""
    return (
        f'<svg role="img" width="{width}" height="{height:g}"{klass}>'
        f"<title>{escape(title)}</title><desc>{escape(words)}</desc>{''.join(shapes)}</svg>"
    )


def figure(caption: str, *content: str) -> str:
    """Put pictures under a caption, which is plain text."""
    return f"<figure><figcaption>{escape(caption)}</figcaption>{''.join(content)}</figure>"


def percent(value: float) -> str:
    """Write a place as a percentage of the width, kept on the picture.

    >>> percent(33.3333), percent(-2), percent(1e9)
    ('33.33%', '0%', '100%')
    """
    return f"{round(min(max(value, 0.0), 100.0), 2):g}%"


def bar(left: float, right: float, top: float, height: float, css: str) -> str:
    """Draw a bar from ``left`` to ``right`` in percent of the width, ``top`` and ``height`` in pixels."""
    low, high = sorted((min(max(left, 0.0), 100.0), min(max(right, 0.0), 100.0)))
    return f'<rect x="{percent(low)}" y="{top:g}" width="{percent(high - low)}" height="{height:g}" class="{css}"/>'


def line(x1: float, y1: float, x2: float, y2: float, css: str) -> str:
    """Draw a line: x in percent of the width, y in pixels."""
    return f'<line x1="{percent(x1)}" y1="{y1:g}" x2="{percent(x2)}" y2="{y2:g}" class="{css}"/>'


def point(x: float, y: float, radius: float, css: str) -> str:
    """Draw a point: x in percent of the width, y and radius in pixels."""
    return f'<circle cx="{percent(x)}" cy="{y:g}" r="{radius:g}" class="{css}"/>'


def text(x: float, y: float, words: str, css: str = "", anchor: str = "") -> str:
    """Write plain text with its base line at y; ``anchor`` is start, middle or end."""
    attributes = (f' class="{css}"' if css else "") + (f' text-anchor="{anchor}"' if anchor else "")
    return f'<text x="{percent(x)}" y="{y:g}"{attributes}>{escape(words)}</text>'


def rail(x: float | str, y1: str, y2: str, css: str) -> str:
    """Draw an upright line: x in pixels or as a percentage, y as SVG takes it ("13", "100%")."""
    return f'<line x1="{x}" x2="{x}" y1="{y1}" y2="{y2}" class="{css}"/>'


def mark(x: float, y: float, words: str) -> str:
    """Write a short mark around x, both in pixels."""
    return f'<text x="{x:g}" y="{y:g}" text-anchor="middle" class="strong">{escape(words)}</text>'
