"""Values of a batch among those of its peers, a strip a value: peers as ticks, the batch a dot, the limit a bracket."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.page import shapes
from formula_vcs.reports.page.shell import escape

_LEFT: Final = 2.0
_WIDTH: Final = 96.0
_HEIGHT: Final = 26
_MIDDLE: Final = 13


@dataclass(frozen=True, slots=True)
class Strip:
    """One value: its name and words, the batch's number, those of the peers, and the limit (None where none is)."""

    name: str
    said: str
    number: Fraction
    peers: tuple[Fraction, ...]
    limit: tuple[Fraction, Fraction] | None
    outside: bool


def strip_plot(caption: str, strips: Sequence[Strip]) -> Markup:
    """Draw strips, each on a scale of its own: they are of different units."""
    rows = "".join(f"<li>{_row(strip)}</li>" for strip in strips)
    return Markup(shapes.figure(caption, f'<ul class="strips">{rows}</ul>'))


def _row(strip: Strip) -> str:
    values = [strip.number, *strip.peers, *(strip.limit or ())]
    low, high = min(values), max(values)
    span = high - low or Fraction(1)

    def x(value: Fraction) -> float:
        return _LEFT + _WIDTH * float((value - low) / span) if high > low else 50.0

    drawn = [shapes.line(_LEFT, _MIDDLE, _LEFT + _WIDTH, _MIDDLE, "grid")]
    drawn += [shapes.line(x(value), 7, x(value), 19, "axis") for value in sorted(set(strip.peers))]
    for place, way in zip(map(x, strip.limit or ()), (0.8, -0.8), strict=False):
        drawn += [shapes.line(place, 3, place, 23, "limit"), shapes.line(place, 3, place + way, 3, "limit")]
        drawn.append(shapes.line(place, 23, place + way, 23, "limit"))
    drawn.append(shapes.point(x(strip.number), _MIDDLE, 6, "out" if strip.outside else "s1"))
    words = f"{strip.said}; {len(strip.peers)} peers" + (", outside the limit" if strip.outside else "")
    picture = shapes.picture(strip.name, words, _HEIGHT, drawn)
    strong = ' class="strong"' if strip.outside else ""
    return f'<span{strong}>{escape(strip.name)}</span> <span class="muted">{escape(strip.said)}</span>{picture}'
