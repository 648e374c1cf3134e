"""The answer to "when did it cross the line", in words for every format."""

from __future__ import annotations

from formula_vcs.diff.change_words import ARROW
from formula_vcs.figures.figure import Figure
from formula_vcs.history.crossing import Crossing, Doer, Threshold
from formula_vcs.reports import figure_words
from formula_vcs.reports.log.sheet import LogSheet, When
from formula_vcs.words.numbers import exact_text, signed


def line_words(line: Threshold, unit: str) -> str:
    """Say the line: ``below 95 %``."""
    value = exact_text(line.value)
    return f"{'below' if line.below else 'above'} {value}{f' {unit}' if unit else ''}"


def question(when: When, unit: str) -> str:
    """Say what was asked: ``natural origin below 95 %``."""
    return f"{figure_words.called(when.line.figure)} {line_words(when.line, unit)}"


def verdict(sheet: LogSheet, when: When, unit: str) -> str:
    """Give the answer in a sentence."""
    crossed = line_words(when.line, unit)
    began, first = when.began, when.first
    if first is not None and began is not None:
        return f"Began {crossed}, and crossed to it again on {first.version.commit.day}"
    asked = " in the versions asked for" if sheet.left_out else ""
    if first is not None:
        return f"First {crossed}{asked} on {first.version.commit.day}"
    if began is not None:
        day = began.version.commit.day
        cut = began.version.status == "cut"
        return f"Already {crossed} in the oldest version of this clone, {day}" if cut else f"Began {crossed} on {day}"
    if not any(row.figures.get(when.line.figure) for row in sheet.rows):
        return "There is no version of it here"
    if (before := _past_before(sheet, when)) is not None:
        return f"Already {crossed} when the versions asked for begin, on {before}"
    known = any(row.figures[when.line.figure].value is not None for row in sheet.rows if row.figures)
    where = " in the history that this clone has" if sheet.cut else asked
    return f"Never {crossed}{where}" if known else f"Not known at any version{where}"


def _past_before(sheet: LogSheet, when: When) -> str | None:
    """Give the day of the oldest version past the line that crossed it before the versions asked for begin."""
    for row in sheet.rows:
        figure = row.figures.get(when.line.figure)
        if figure is not None and when.line.past(figure.value):
            return row.version.commit.day
    return None


def step(crossing: Crossing) -> str:
    """Say the values before and after a crossing."""
    after = value(crossing.after)
    return after if crossing.before is None else f"{value(crossing.before)} {ARROW} {after}"


def value(figure: Figure) -> str:
    """Write a figure with every digit that tells it from the line beside it, and its unit."""
    if figure.value is None:
        return figure_words.absent(figure)
    text = figure_words.below_all(figure.value, figure_words.places(figure.name), 8)
    return f"{text} {figure.unit}".rstrip()


def doer_words(doer: Doer, crossing: Crossing) -> str:
    """Say what a change brought: ``-0.15 by ...``, and who made it where a merge brought it."""
    share = "" if doer.share is None else f"{signed(doer.share, figure_words.places(crossing.after.name))} by "
    made = doer.version
    by = "" if made is crossing.version else f" ({made.commit.oid[:10]}, {made.commit.author})"
    return f"{share}{doer.change.text}{by}"


def remarks(crossing: Crossing) -> list[str]:
    """Say where no change of the commit did it, and where fewer than those that are named may do."""
    found = []
    if crossing.calendar:
        found.append("not by this commit: a price that was stated before came into force since the version before")
    if not crossing.smallest:
        found.append("too many changes to look for a smallest set: together these suffice")
    return found


def now_words(when: When, unit: str) -> str:
    """Say where the figure is at the end."""
    if when.now is None:
        return "At the end the recipe is not there, or its file does not parse."
    past = when.line.past(when.now.value)
    if past is None:
        return "At the end it is not known."
    side = "" if past else "not "
    return f"At the end: {value(when.now)}, {side}{line_words(when.line, unit)}."
