"""A figure over time as a step chart: it holds from one version to the next, and each version is a mark."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Final

from formula_vcs.model.values import dataclass
from formula_vcs.reports.page import shapes
from formula_vcs.reports.page.parts import paragraph
from formula_vcs.reports.page.shell import escape

_TOP: Final = 40.0
_BOTTOM: Final = 152.0
_HEIGHT: Final = 184
_HEAD: Final = 14.0  # the base line of what stands above the picture
_BELOW: Final = 18.0  # from a mark to the base line of a number below it
_APART: Final = 6.0  # of the width: a number nearer to the one before it would run into it
_LEFT: Final = 2.0
_RIGHT: Final = 98.0
_MARK: Final = 4.0
_LEAST: Final = Fraction(1, 100)  # of the largest value: no scale is finer


@dataclass(frozen=True, slots=True)
class Dot:
    """One version: its moment, the value (None where it is not known), its words, and whether only data moved.

    ``number`` is the row of the table below that it stands for; 0 for none.
    """

    when: datetime.datetime
    value: Fraction | None
    shown: str
    words: str
    under: bool
    number: int = 0


def step_chart(caption: str, unit: str, dots: Sequence[Dot], limit: tuple[Fraction, str] | None = None) -> str:
    """Draw the dots in the order of their moments; ``limit`` is a value with its words, drawn as a dashed line."""
    dots = sorted(dots, key=lambda dot: dot.when)
    known = [dot for dot in dots if dot.value is not None]
    if not known:
        return ""
    scale = _TimeScale(dots, known, limit)
    if len(known) > 1 and scale.lowest.value == scale.highest.value and len(known) == len(dots):
        # a line that never moves is a sentence
        words = f"{caption}: {known[0].shown} in all {len(known)} versions"
        return paragraph(words + (f"; {limit[1]}" if limit is not None else "") + ".")
    marks = [shapes.line(_LEFT, y, _RIGHT, y, "grid") for y in (_TOP, _BOTTOM)]
    marks += scale.limit(limit)
    marks += _steps(dots, scale)
    marks += [_mark(dot, scale) for dot in known]
    marks += _numbers(known, scale)
    marks += scale.labels(known, dots)
    first, last = known[0], known[-1]
    words = (
        f"{len(known)} versions from {first.when.date()} to {last.when.date()}: {first.shown} to {last.shown} {unit}, "
        f"lowest {scale.lowest.shown}, highest {scale.highest.shown}. The table below has every value."
    )
    return shapes.figure(caption, shapes.picture(caption, words, _HEIGHT, marks))


class _TimeScale:
    """Where a moment and a value lie on the picture."""

    def __init__(self, dots: Sequence[Dot], known: Sequence[Dot], limit: tuple[Fraction, str] | None) -> None:
        self._begin = dots[0].when
        self._span = (dots[-1].when - self._begin).total_seconds()
        self._places = {id(dot): number for number, dot in enumerate(dots)}
        self.lowest = min(known, key=lambda dot: dot.value or 0)
        self.highest = max(known, key=lambda dot: dot.value or 0)
        values = [dot.value for dot in known if dot.value is not None]
        if limit is not None:
            values.append(limit[0])
        self._low, self._high = min(values), max(values)
        room = abs(self._high) * _LEAST - (self._high - self._low)
        if room > 0:  # the last digit of a figure is no cliff
            self._low, self._high = self._low - room / 2, self._high + room / 2

    def x(self, dot: Dot) -> float:
        if not self._span:  # all of one moment: one beside the other
            return _LEFT + (_RIGHT - _LEFT) * self._places[id(dot)] / max(len(self._places) - 1, 1)
        return _LEFT + (_RIGHT - _LEFT) * (dot.when - self._begin).total_seconds() / self._span

    def y(self, value: Fraction) -> float:
        span = self._high - self._low
        share = float((value - self._low) / span) if span else 0.5
        return round(_BOTTOM - share * (_BOTTOM - _TOP), 2)

    def limit(self, limit: tuple[Fraction, str] | None) -> list[str]:
        if limit is None:
            return []
        y = self.y(limit[0])
        return [shapes.line(_LEFT, y, _RIGHT, y, "limit"), shapes.text(_RIGHT, y - 5, limit[1], "bad", "end")]

    def labels(self, known: Sequence[Dot], dots: Sequence[Dot]) -> list[str]:
        found = [shapes.text(_LEFT, _HEAD, f"highest {self.highest.shown}", "muted")]
        if self.highest.value != self.lowest.value:
            found.append(shapes.text(_LEFT, _BOTTOM + 14, f"lowest {self.lowest.shown}", "muted"))
        found.append(shapes.text(_RIGHT, _HEAD, f"last {known[-1].shown}", "strong", "end"))
        found.append(shapes.text(_LEFT, _HEIGHT - 4, str(dots[0].when.date()), "muted"))
        if dots[-1].when.date() != dots[0].when.date():
            found.append(shapes.text(_RIGHT, _HEIGHT - 4, str(dots[-1].when.date()), "muted", "end"))
        return found


def _steps(dots: Sequence[Dot], scale: _TimeScale) -> list[str]:
    """Draw the line from each version to the next; there is none where a value is not known."""
    found: list[str] = []
    for dot, after in pairwise(dots):
        if dot.value is None:
            continue
        x1, x2, y = scale.x(dot), scale.x(after), scale.y(dot.value)
        found.append(shapes.line(x1, y, x2, y, "l1"))
        if after.value is not None:
            found.append(shapes.line(x2, y, x2, scale.y(after.value), "l1"))
    return found


def _numbers(known: Sequence[Dot], scale: _TimeScale) -> list[str]:
    """Write above a mark the number of its row, where there is room; where a value moved comes first."""
    moved = {id(after) for before, after in pairwise(known) if before.value != after.value}
    fell = {id(after) for before, after in pairwise(known) if (before.value or 0) > (after.value or 0)}
    placed: list[float] = []
    found: list[str] = []
    for dot in sorted((one for one in known if one.number), key=lambda one: (id(one) not in moved, one.when)):
        x = min(max(scale.x(dot), _LEFT + 1), _RIGHT - 1)
        if all(abs(x - other) >= _APART for other in placed):
            placed.append(x)
            y = scale.y(dot.value or Fraction(0))
            below = id(dot) in fell and y + _BELOW <= _BOTTOM  # above it the line comes down
            found.append(shapes.text(x, y + _BELOW if below else y - 8, str(dot.number), "muted", "middle"))
    return found


def _mark(dot: Dot, scale: _TimeScale) -> str:
    """Draw a version: a full dot for a change of the recipe, an open one where only data under it moved."""
    x, y = scale.x(dot), scale.y(dot.value or Fraction(0))
    css = "open" if dot.under else "s1"
    mark = f'<circle cx="{shapes.percent(x)}" cy="{y:g}" r="{_MARK:g}" class="{css}">'
    return f"{mark}<title>{escape(dot.words)}</title></circle>"
