"""Numbers against their limits: a bar before and a bar now, the limit a dashed line; in a range a point for each."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.reports.page import parts, shapes
from formula_vcs.reports.page.gauges import Gauge
from formula_vcs.reports.page.shell import escape

MOST_DRAWN: Final = 8
MOST_LISTED: Final = 60
_LEFT, _RIGHT = 0.5, 99.0  # where the scale begins and ends, in percent of the width
_HEIGHT: Final = 58
_BEFORE, _NOW = (22, 11), (39, 15)  # top and height of the two bars, in px
_FILLS: Final = {"bad": "over", "warn": "near"}
_HUNDRED: Final = Fraction(100)


def limits(found: Sequence[Gauge]) -> str:
    """Draw what moved or is broken; the rest is listed, folded away."""
    told = [gauge for gauge in found if gauge.moved or gauge.css in ("bad", "warn")]
    drawn, rest = told[:MOST_DRAWN], [*told[MOST_DRAWN:], *(gauge for gauge in found if gauge not in told)]
    pieces: list[str] = []
    if drawn:
        caption = (
            "Above what was before, below what is now. A dashed line is a limit; a bar is hatched where it is broken."
        )
        pieces.append(shapes.figure(caption, f'<ul class="gauges">{"".join(map(_drawn, drawn))}</ul>'))
    if rest:
        words = f"{len(rest)} other limit{'s' if len(rest) > 1 else ''}"
        caption = "Other limits that this recipe is under"
        rows = [(gauge.name, *gauge.said) for gauge in rest[:MOST_LISTED]]
        notes = [f"{gauge.state}; {gauge.source}" for gauge in rest[:MOST_LISTED]]
        table = parts.table(caption, ("number", "before", "now", "limit"), rows, (1, 2, 3), notes)
        if len(rest) > MOST_LISTED:
            table += parts.paragraph(f"and {len(rest) - MOST_LISTED} more limits, left out here", "muted")
        pieces.append(parts.folded(words, table))
    return "".join(pieces)


def _drawn(gauge: Gauge) -> str:
    before, now, limit = gauge.said
    words = f"before {before}, now {now}, limit {limit}: {gauge.state}"
    scale = _LimitScale(gauge)
    shape = _span(gauge, scale) if gauge.low is not None and gauge.high is not None else _bars(gauge, scale)
    return (
        f"<li><p><strong>{escape(gauge.name)}</strong> {parts.tag(gauge.state, gauge.css)}"
        f'<br><span class="small muted">{escape(gauge.source)}</span></p><div class="gauge">'
        f'<p class="ends"><span class="muted">before {escape(before)}</span><br><strong>now {escape(now)}</strong></p>'
        f"{shapes.picture(gauge.name, words, _HEIGHT, [*shape, *_limit(gauge, scale)])}</div></li>"
    )


class _LimitScale:
    """Where numbers stand in the picture: from nothing to a bit above the largest, or around a range."""

    def __init__(self, gauge: Gauge) -> None:
        values = [value for value in (gauge.before, gauge.after, gauge.low, gauge.high) if value is not None]
        low, high = min(values, default=Fraction(0)), max(values, default=Fraction(1))
        if gauge.low is not None and gauge.high is not None:
            room = (high - low) / 3 or Fraction(1)
            self.low, self.high = low - room, high + room
        else:
            share = gauge.low is not None and _HUNDRED / 2 < high <= _HUNDRED
            self.low, self.high = Fraction(0), _HUNDRED if share else high * Fraction(21, 20) or Fraction(1)

    def at(self, value: Fraction) -> float:
        """Give the place of a number in percent of the width."""
        share = min(max((value - self.low) / (self.high - self.low), Fraction(0)), Fraction(1))
        return _LEFT + (_RIGHT - _LEFT) * float(share)


def _bars(gauge: Gauge, scale: _LimitScale) -> list[str]:
    drawn = [shapes.line(_LEFT, 19, _LEFT, _HEIGHT, "axis")]
    if gauge.before is not None:
        drawn.append(shapes.bar(_LEFT, scale.at(gauge.before), *_BEFORE, "past"))
    if gauge.after is not None:
        drawn.append(shapes.bar(_LEFT, scale.at(gauge.after), *_NOW, _FILLS.get(gauge.css, "s1")))
    return drawn


def _span(gauge: Gauge, scale: _LimitScale) -> list[str]:
    """Draw a range with points in it or beside it: bars from nothing would hide what matters."""
    drawn = [shapes.line(_LEFT, y, _RIGHT, y, "grid") for y in (27, 46)]
    if gauge.before is not None:
        drawn.append(shapes.point(scale.at(gauge.before), 27, 5, "past"))
    if gauge.after is not None:
        drawn.append(shapes.point(scale.at(gauge.after), 46, 7, _FILLS.get(gauge.css, "s1")))
    return drawn


def _limit(gauge: Gauge, scale: _LimitScale) -> list[str]:
    ends = [scale.at(end) for end in (gauge.low, gauge.high) if end is not None]
    drawn = [shapes.line(x, 17, x, _HEIGHT, "limit") for x in ends]
    if ends:
        # the words end at the line where there is no room behind it
        late = ends[-1] > (_LEFT + _RIGHT) / 2
        drawn.append(shapes.text(ends[-1] if late else ends[0], 12, gauge.said[2], "bad", "end" if late else "start"))
    return drawn
