"""A control chart: one result over the batches, with the spec of each, their median, and where the recipe changed.

Shape says what colour says: a dot is a batch in its spec, a cross one outside of it, a diamond one that the page is
about.  All numbers stand in a table below it, for those who cannot see a picture.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.page.shapes import figure, line, percent, picture, text
from formula_vcs.reports.page.shell import escape
from formula_vcs.trace import robust
from formula_vcs.trace.series import Point, Series
from formula_vcs.words.numbers import shown

_HEIGHT: Final = 250.0
_TOP: Final = 34.0
_BOTTOM: Final = 30.0
_LEFT: Final = 9.0  # percent
_RIGHT: Final = 97.0
_NAME: Final = 30.0  # percent that the name of a batch may take on a telephone
_TALL: Final = 15.0


def control_chart(found: Series) -> Markup:
    """Draw a chart and its table."""
    scale = _ChartScale(found)
    shapes = [*_limits(found, scale), *_versions(found, scale), *_line(found, scale), *_marks(found, scale)]
    unit = f" in {found.unit}" if found.unit else ""
    caption = f"{found.name}{unit} over {len(found.points)} batches. {_key(found)}"
    drawn = picture(f"{found.name} over the batches", said(found), _HEIGHT, shapes)
    return Markup(figure(caption, drawn, _table(found)))


def said(found: Series) -> str:
    """Say in words what the chart shows."""
    first, last = found.points[0], found.points[-1]
    outside = [point.batch for point in found.points if _outside(point)]
    parts = [
        f"{found.name} of {len(found.points)} batches, {first.batch} of {first.date} to {last.batch} of {last.date}."
    ]
    if found.median is not None:
        parts.append(f"Median of the others {_number(found.median)} {found.unit}.".replace(" .", "."))
    parts.append(f"Outside its spec: {', '.join(outside)}." if outside else "None is outside its spec.")
    marked = [f"{point.batch} {_number(point.value)}" for point in found.points if point.marked]
    return " ".join([*parts, f"Marked: {', '.join(marked)}." if marked else ""]).strip()


def _key(found: Series) -> str:
    words = "Diamond: the batches of this page; dot: another; cross: outside its spec. "
    words += "Dashed: the spec of each version. Grey: the median of the others"
    if found.low is not None:
        share = f"{100 * (1 - robust.chance()):.0f} %"
        return f"{words}, and between the thin lines {share} of sound batches (by {found.others} batches)."
    return f"{words}; {found.others} others are too few for limits."


class _ChartScale:
    """Where a value and a batch stand in the picture."""

    def __init__(self, found: Series) -> None:
        values = [float(point.value) for point in found.points]
        values += [float(end) for point in found.points for end in (point.low, point.high) if end is not None]
        values += [end for end in (found.low, found.high) if end is not None and _near(end, values)]
        low, high = min(values), max(values)
        room = (high - low) * 0.08 or abs(high) * 0.05 or 1.0
        self.low, self.high = low - room, high + room
        self.count = len(found.points)

    def y(self, value: float) -> float:
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return round(_HEIGHT - _BOTTOM - share * (_HEIGHT - _TOP - _BOTTOM), 1)

    def x(self, position: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * (position + 0.5) / self.count


def _near(end: float, values: Sequence[float]) -> bool:
    """Say whether a limit lies near enough to what is shown to be shown too."""
    width = max(values) - min(values) or 1.0
    return min(values) - width <= end <= max(values) + width


def _limits(found: Series, scale: _ChartScale) -> Iterator[str]:
    for number, point in enumerate(found.points):
        left, right = scale.x(number - 0.5), scale.x(number + 0.5)
        for end in (point.low, point.high):
            if end is not None:
                yield line(left, scale.y(float(end)), right, scale.y(float(end)), "limit")
    ends = dict.fromkeys(end for point in found.points[-1:] for end in (point.low, point.high) if end is not None)
    for end in ends:
        yield text(0, scale.y(float(end)) + 4, _number(end), "muted")
    if found.median is not None:
        level = scale.y(float(found.median))
        yield line(_LEFT, level, _RIGHT, level, "axis")
        yield text(0, level + 4, _number(found.median), "muted")
    for limit in (found.low, found.high):
        if limit is not None and scale.low <= limit <= scale.high:
            yield line(_LEFT, scale.y(limit), _RIGHT, scale.y(limit), "grid")


def _versions(found: Series, scale: _ChartScale) -> Iterator[str]:
    """Mark where the content of the recipe changed."""
    last = None
    free = -100.0
    for number, point in enumerate(found.points):
        if point.version == last:
            continue
        x = scale.x(number - 0.5)
        if last is not None:
            yield line(x, _TOP - 8, x, _HEIGHT - _BOTTOM, "grid")
        if x - free >= 4:  # percent: two numbers nearer than this would run into each other
            yield text(x + 0.4, _TOP - 12, f"v{point.version}", "muted")
            free = x
        last = point.version


def _line(found: Series, scale: _ChartScale) -> Iterator[str]:
    for number, (one, other) in enumerate(zip(found.points, found.points[1:], strict=False)):
        ends = scale.x(number), scale.y(float(one.value)), scale.x(number + 1), scale.y(float(other.value))
        yield line(*ends, "l6")


def _marks(found: Series, scale: _ChartScale) -> Iterator[str]:
    last = (-100.0, 0.0)
    for number, point in enumerate(found.points):
        x, y = scale.x(number), scale.y(float(point.value))
        yield f'<svg x="{percent(x)}" y="{y:g}" overflow="visible">{_shape(point)}</svg>'
        if point.marked or number in (0, scale.count - 1):
            anchor = "start" if number < scale.count / 4 else "end" if number > scale.count * 3 / 4 else "middle"
            low = point.marked and y > _HEIGHT - _BOTTOM - 16
            height = _HEIGHT - 8 if not point.marked else y - 12 if low or y > _TOP + 16 else y + 22
            if point.marked and x - last[0] < _NAME and abs(height - last[1]) < _TALL:
                height = height - _TALL if low or height > y else y + 22  # on a narrow screen two names would be one
            last = (x, height) if point.marked else last
            yield text(x, height, point.batch, "strong" if point.marked else "muted", anchor)


def _shape(point: Point) -> str:
    if point.marked:
        css = "s2" if _outside(point) else "s1"
        cross = '<path d="M-3-3 3 3M-3 3 3-3" class="edge" fill="none"/>' if _outside(point) else ""
        return f'<path d="M0-8 8 0 0 8-8 0z" class="{css}"/>{cross}'
    if _outside(point):
        return '<path d="M-5-5 5 5M-5 5 5-5" class="l2"/>'
    return '<circle r="4" class="s6 edge"/>'


def _outside(point: Point) -> bool:
    return (point.low is not None and point.value < point.low) or (point.high is not None and point.value > point.high)


def _number(value: Fraction) -> str:
    return shown(value, 0, 4)


def _table(found: Series) -> str:
    rows = "".join(
        f'<tr><th scope="row">{escape(point.batch)}</th><td>{escape(point.date)}</td>'
        f'<td class="n">{escape(_number(point.value))}</td><td>{escape(_range(point))}</td>'
        f'<td>v{point.version}, <span class="id">{escape(point.commit)}</span></td>'
        f"<td>{'outside its spec' if _outside(point) else ''}</td></tr>"
        for point in found.points
    )
    unit = f" ({escape(found.unit)})" if found.unit else ""
    heads = ("batch", "date", f"{escape(found.name)}{unit}", "spec", "version of the recipe", "")
    head = "".join(
        f'<th scope="col"{" class=n" if number == 2 else ""}>{word}</th>' for number, word in enumerate(heads)
    )
    return (
        f'<details><summary>The numbers of the chart</summary><div class="wide" tabindex="0" role="region" '
        f'aria-label="{escape(found.name)} of the batches"><table><caption>{escape(said(found))}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div></details>"
    )


def _range(point: Point) -> str:
    ends = ["" if end is None else _number(end) for end in (point.low, point.high)]
    if not any(ends):
        return ""
    return f"{ends[0]} to {ends[1]}" if all(ends) else f"at least {ends[0]}" if ends[0] else f"at most {ends[1]}"
