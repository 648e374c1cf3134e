"""What a recipe consists of, phase by phase, before and after: two stacked bars, and a table with the numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.model.formula import Formula
from formula_vcs.reports import figure_words
from formula_vcs.reports.page import parts, shapes
from formula_vcs.review.compare import ReviewSides
from formula_vcs.words.numbers import signed

MOST: Final = 9  # phases that are drawn each by itself; more go together
MOST_ROWS: Final = 60  # phases in the table
_SERIES: Final = 6
_OTHERS: Final = "other phases"
_HEADS: Final = ("phase", "before", "now", "points")
_ROOM: Final = 3  # percent of the bar that a character of a phase's name takes on a phone


def composition(sides: ReviewSides) -> str:
    """Draw the phases of both versions; nothing where no version has any, or where no phase moves."""
    past, present = _phases(sides.past), _phases(sides.present)
    if past == present:
        return ""
    names = list(dict.fromkeys((*present, *past)))
    if not names or not any((*past.values(), *present.values())):
        return ""
    kept = names[:MOST] if len(names) > MOST else names
    bars = [(words, _gathered(side, kept)) for words, side in (("before", past), ("now", present)) if side]
    drawn: list[str] = []
    for row, (words, side) in enumerate(bars):
        drawn += _bar(words, side, [*kept, _OTHERS], 14 + row * 48)
    caption = "What it is made of, by phase, in the order of the table."
    told = "; ".join(f"{words}: {', '.join(f'{n} {_pct(v)}' for n, v in side.items())}" for words, side in bars)
    picture = shapes.picture("Composition by phase", told, 48 * len(bars), drawn)
    return shapes.figure(caption, picture, _table(sides, past, present, names))


def _phases(formula: Formula) -> dict[str, Fraction]:
    found: dict[str, Fraction] = dict.fromkeys(formula.recipe.phases, Fraction(0))
    for line in breakdown_of(formula).composition.lines:
        found[line.charge.phase] = found.get(line.charge.phase, Fraction(0)) + line.pct
    return found if formula.recipe.charges else {}


def _gathered(side: Mapping[str, Fraction], kept: Sequence[str]) -> dict[str, Fraction]:
    found = {name: value for name, value in side.items() if name in kept}
    rest = sum((value for name, value in side.items() if name not in kept), Fraction(0))
    return {**found, _OTHERS: rest} if rest else found


def _bar(words: str, side: Mapping[str, Fraction], names: Sequence[str], top: int) -> list[str]:
    """Draw one bar; what is below nothing, as a wrong balance can be, has no part in it."""
    seen = {name: max(value, Fraction(0)) for name, value in side.items()}
    whole = sum(seen.values(), Fraction(0)) or Fraction(1)
    drawn = [shapes.text(0, top - 2, words, "strong" if words == "now" else "muted")]
    left = 0.0
    for name in names:
        share = float(seen.get(name, Fraction(0)) / whole * 100)
        if not share:
            continue
        number = names.index(name)
        drawn.append(shapes.bar(left, left + share, top + 3, 24, f"{_css(number)} edge"))
        if share >= _ROOM * len(name):
            drawn.append(shapes.text(left + share / 2, top + 20, name, "on strong", "middle"))
        left += share
    return drawn


def _css(number: int) -> str:
    """Give the fill of a phase: six colours, then the same hatched."""
    return f"s{number + 1}" if number < _SERIES else f"p{number - _SERIES + 1}"


def _table(
    sides: ReviewSides, past: Mapping[str, Fraction], present: Mapping[str, Fraction], names: Sequence[str]
) -> str:
    titles = {**sides.past.recipe.phases, **sides.present.recipe.phases}
    rows = [
        (
            name,
            _pct(past[name]) if name in past else "none",
            _pct(present[name]) if name in present else "none",
            _shift(past.get(name, Fraction(0)), present.get(name, Fraction(0))),
        )
        for name in names[:MOST_ROWS]
    ]
    notes = [titles.get(name, "") for name in names]
    table = parts.table("Phases in % w/w", _HEADS, rows, (1, 2, 3), notes)
    if len(names) > MOST_ROWS:
        table += parts.paragraph(f"and {len(names) - MOST_ROWS} more phases, left out here", "muted")
    return parts.folded(f"{len(names)} phases", table) if len(names) > MOST else table


def _pct(value: Fraction) -> str:
    return figure_words.below_all(value, 2, 4)


def _shift(before: Fraction, after: Fraction) -> str:
    return signed(after - before, 2, 4) if before != after else "the same"
