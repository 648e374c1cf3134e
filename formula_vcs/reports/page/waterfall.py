"""A figure's difference as a waterfall: from before to now, what each change brought, one under the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from formula_vcs.diff.effects import Effect
from formula_vcs.reports import figure_words, review_document
from formula_vcs.reports.page import parts, shapes
from formula_vcs.reports.page.shell import escape
from formula_vcs.review.compare import Review
from formula_vcs.words.numbers import rounded

MOST: Final = 9
_HEIGHT: Final = 22


class Bar(NamedTuple):
    """One row: its words, where it starts and ends in the figure's unit; ``whole`` is an end, not a share."""

    words: str
    amount: str
    start: float
    end: float
    whole: bool = False


def waterfall(review: Review, name: str) -> str:
    """Draw the shares of a figure's difference, which add up; nothing where they are not known or nothing is seen."""
    effect = next((effect for effect in review.effects if effect.figure == name), None)
    if effect is None or not effect.shares or effect.before.value is None or effect.after.value is None:
        return ""
    found = review_document.shared(effect, review, MOST)
    before, after = (review_document.at(effect, figure) for figure in (effect.before, effect.after))
    if not found or before is None or after is None or before == after:
        return ""
    unit = effect.after.unit
    relative = _relative(effect)
    if len(found) == 1:
        # one share is no comparison: a bar of it would be as long for a cent as for a euro
        moved = f"{before:f} {review_document.ARROW} {after:f} {unit}{relative}"
        return parts.paragraph(f"{figure_words.called(effect.figure)} {moved}, by {found[0].text}")
    rows = [Bar("before", f"{before:f}", float(before), float(before), whole=True)]
    at = before
    for part in found:
        rows.append(Bar(part.text, part.value, float(at), float(at + part.amount)))
        at += part.amount
    difference = figure_words.sign(after - before)
    rows.append(Bar(f"now, {difference}", f"{after:f}", float(after), float(after), whole=True))
    called = figure_words.called(effect.figure)
    caption = (
        f"{called.capitalize()} by change, {unit}: the parts add up to {difference}{relative}. A full bar adds, a "
        "hatched one takes away; the axis does not begin at zero."
    )
    if effect.evened:
        caption += f" {review_document.EVENED[effect.evened][:1].upper()}{review_document.EVENED[effect.evened][1:]}."
    return shapes.figure(caption, _drawn(rows, called, effect))


def _relative(effect: Effect) -> str:
    """Write a difference in % of what was before; empty where that is nothing, or not known."""
    before, after = effect.before.value, effect.after.value
    if not before or after is None:
        return ""
    return f", {figure_words.sign(rounded((after - before) / before * 100, 1))} %"


def _drawn(rows: Sequence[Bar], called: str, effect: Effect) -> str:
    low = min(min(row.start, row.end) for row in rows)
    high = max(max(row.start, row.end) for row in rows)
    span = high - low or 1.0

    def x(value: float) -> float:
        return 4 + 92 * (value - low) / span

    lines: list[str] = []
    for position, row in enumerate(rows):
        shape = [shapes.line(x(row.start), 0 if position else 11, x(row.start), 11, "axis")]
        if position + 1 < len(rows):
            # to the foot of the row, which is higher where its words take two lines
            shape.append(shapes.rail(shapes.percent(x(row.end)), "11", "100%", "axis"))
        if row.whole:
            shape.append(shapes.point(x(row.end), 11, 6, "s1" if position else "past"))
        else:
            shape.append(shapes.bar(x(row.start), x(row.end), 4, 14, "s2" if row.end >= row.start else "takes"))
        words = (
            f"{called} {row.words}: {row.amount} {effect.after.unit}"
            if row.whole
            else f"from {row.start:g} to {row.end:g} {effect.after.unit}"
        )
        picture = shapes.picture(row.words, words, _HEIGHT, shape, css="tall")
        strong = ' class="strong"' if row.whole else ""
        lines.append(
            f'<li><span class="words"><span class="amount num">{escape(row.amount)}</span> '
            f"<span{strong}>{escape(row.words)}</span></span>{picture}</li>"
        )
    return f'<ol class="fall">{"".join(lines)}</ol>'
