"""The versions of a recipe for a terminal, the newest first, and figures as sparklines.

One line a version; what changed is folded in its column where it needs more, and never cut in the middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, TextIO

from formula_vcs.figures.figure import Figure
from formula_vcs.history.crossing import Crossing
from formula_vcs.reports import commit_words, figure_words
from formula_vcs.reports.log import people
from formula_vcs.reports.log import sheet as logs
from formula_vcs.reports.log import when as when_words
from formula_vcs.reports.log.sheet import LogRow, LogSheet
from formula_vcs.reports.log.sparkline import levels_for, sparkline
from formula_vcs.reports.short_words import counted
from formula_vcs.reports.terminal import Ink, at_point, columns, cut, folded, left, right, width_of
from formula_vcs.words.escape import terminal
from formula_vcs.words.imitation import headed
from formula_vcs.words.late_pattern import late_pattern

_LEAST: Final = 24  # columns that words get at least beside the figures; else they stand below them
_ROOMY: Final = 56  # columns of words from which on authors are named in full
_NAME: Final = 24
_SPARK: Final = 40
_COUNT: Final = late_pattern(r"(\+\d+) more$")


def write(sheet: LogSheet, *, out: TextIO) -> None:
    """Write the answer to --above or --below, else all versions."""
    ink = Ink(out)
    ink.wrapped(heading(sheet), style="strong")
    if sheet.when is not None:
        _when(ink, sheet)
        return
    _sparks(ink, sheet, levels_for(out))
    ink.line()
    short: dict[str, str] = {}
    if not sheet.rows:
        ink.line("  no version")
    else:
        short = _table(ink, sheet, width_of(out))
    _notes(ink, sheet, short)


def heading(sheet: LogSheet) -> str:
    """Name the recipe, what of it, and how many versions."""
    named = headed(sheet.title, sheet.recipe)
    charge = f", {sheet.charge}" if sheet.charge is not None else ""
    return f"{named}{charge}, {sheet.revision}: {counted(len(sheet.rows), 'version')}"


def _sparks(ink: Ink, sheet: LogSheet, levels: str) -> None:
    names = [name for name in logs.columns(sheet) if any(row.figures.get(name) for row in sheet.rows)]
    width = max((columns(logs.called(sheet, name)) for name in names), default=0)
    for name in names:
        figures = [row.figures[name] for row in sheet.rows if name in row.figures]
        known = [figure for figure in figures if figure.value is not None]
        if len(figures) < 2 or not known:
            continue
        line = sparkline([figure.value for figure in figures], _SPARK, levels)
        ends = f"{logs.shown(figures[0])} to {logs.shown(figures[-1])} {logs.unit(sheet, name)}".rstrip()
        ink.line(f"  {left(terminal(logs.called(sheet, name)), width)}  {line}  {ends}")


def _table(ink: Ink, sheet: LogSheet, width: int) -> dict[str, str]:
    """Write the table, and give the initials in it, which a note has to spell out."""
    rows = sheet.rows[::-1]
    cells = [_column(sheet, name, rows) for name in logs.columns(sheet)]
    high = max((len(column) for column in cells), default=0)
    cells = [[right("", columns(column[0]))] * (high - len(column)) + column for column in cells]
    taken = 2 + 10 + 2 + 10 + 2 + sum(columns(column[0]) + 2 for column in cells)
    names = [row.version.commit.author for row in rows]
    whole = {name: cut(terminal(name), _NAME) for name in names}
    short = people.initials(names)
    roomy = width - taken - 2 - max(map(columns, whole.values())) >= _ROOMY
    called = whole if roomy else short
    author = max(map(columns, called.values()))
    room = width - taken - author - 2
    heads = high - len(rows)
    for number in range(heads):
        ink.line(f"{' ' * (26 + author + 2)}{'  '.join(column[number] for column in cells)}".rstrip())
    for number, row in enumerate(rows):
        commit = row.version.commit
        parts = [left(commit.day, 10), left(commit_words.name(commit), 10), left(called[commit.author], author)]
        parts += [column[heads + number] for column in cells]
        _line(ink, "  ".join(parts), row, room, width)
    return {} if roomy else short


def _line(ink: Ink, parts: str, row: LogRow, room: int, width: int) -> None:
    mark = "~ " if row.under else ""
    beside = room >= _LEAST
    room = room if beside else width - 6
    words = f"{mark}{terminal(logs.several(row, 2 * room))}"
    words = _COUNT.sub("\\1\0more", words)  # these two stay together
    lines = [cut(line, room) for line in folded(words, room, room - columns(mark))] or [""]
    if not beside:
        ink.line(f"  {parts}".rstrip())
    indent = " " * (width - room if beside else 6)
    for number, line in enumerate(lines):
        lead = f"  {parts}  " if beside and not number else f"{indent}{' ' * columns(mark) if number else ''}"
        ink.line(f"{lead}{line}".rstrip())


def _column(sheet: LogSheet, name: str, rows: Sequence[LogRow]) -> list[str]:
    """Give a column of one width: the lines of its head, then a number a row."""
    numbers = at_point([logs.shown(row.figures.get(name)) for row in rows])
    width = max((columns(number) for number in numbers), default=0)
    head = terminal(logs.called(sheet, name))
    width = max(width, *(columns(word) for word in head.split()), 5)
    lines = folded(head, width, width)
    return [*(right(line, width) for line in lines), *(right(number, width) for number in numbers)]


def _notes(ink: Ink, sheet: LogSheet, short: dict[str, str]) -> None:
    ink.line()
    if named := people.legend(short):
        ink.wrapped(named)
    for note in notes(sheet):
        ink.wrapped(note)


def notes(sheet: LogSheet) -> list[str]:
    """Say what a reader of the table must know."""
    found: list[str] = []
    if any(row.under for row in sheet.rows):
        found.append(f"~ {logs.ONLY_UNDER}")
    named = [(logs.called(sheet, name), logs.unit(sheet, name)) for name in logs.columns(sheet)]
    units = [f"{name} in {unit}" for name, unit in named if unit]
    if units:
        costs = [prices(sheet)] if any("cost" in name for name in sheet.names) else []
        found.append("; ".join((*units, *costs)) + ".")
    found += [f"? {fact}" for fact in missing(sheet)]
    if sheet.left_out:
        found.append(f"{counted(sheet.left_out, 'version')} left out.")
    return found + _shallow(sheet)


def closing(sheet: LogSheet) -> list[str]:
    """Say what a reader of the answer must know."""
    costs = sheet.when is not None and "cost" in sheet.when.line.figure
    return [*([f"{prices(sheet).capitalize()}."] if costs else []), *_shallow(sheet)]


def _shallow(sheet: LogSheet) -> list[str]:
    return [f"The oldest version here is as old as that, {commit_words.SHALLOW}."] if sheet.cut else []


def prices(sheet: LogSheet) -> str:
    """Say which prices the costs are of."""
    return f"prices as of {sheet.as_of}" if sheet.as_of else "prices as of the day of each commit"


def missing(sheet: LogSheet) -> list[str]:
    """Say what is missing to know a figure, at the newest version that lacks it."""
    found: list[str] = []
    for name in logs.columns(sheet):
        lacking: Figure | None = next(
            (row.figures[name] for row in sheet.rows[::-1] if name in row.figures and row.figures[name].value is None),
            None,
        )
        if lacking is not None:
            facts = "; ".join(lacking.missing[:3]) or "no data"
            more = f" and {len(lacking.missing) - 3} more" if len(lacking.missing) > 3 else ""
            found.append(f"{figure_words.called(name)} is not known: {facts}{more}")
    return found


def _when(ink: Ink, sheet: LogSheet) -> None:
    when = sheet.when
    if when is None:
        return
    unit = logs.unit(sheet, when.line.figure)
    ink.wrapped(f"{when_words.question(when, unit)}?")
    ink.line()
    ink.wrapped(f"{when_words.verdict(sheet, when, unit)}.", style="strong")
    for crossing in when.crossings:
        _crossing(ink, crossing)
    ink.line()
    ink.wrapped(when_words.now_words(when, unit))
    for note in closing(sheet):
        ink.wrapped(note)


def _crossing(ink: Ink, crossing: Crossing) -> None:
    commit = crossing.version.commit
    ink.line()
    back = "back: " if crossing.back else ""
    ink.line(f"  {left(commit.day, 10)}  {commit_words.name(commit)}  {terminal(f'{back}{when_words.step(crossing)}')}")
    subject, *reason = commit_words.told(commit)
    for line in (f"{commit_words.who(commit)}: {subject}", *reason):
        ink.wrapped(line, "    ")
    for doer in crossing.doers:
        ink.wrapped(when_words.doer_words(doer, crossing), "    ", "      ")
    for line in when_words.remarks(crossing):
        ink.wrapped(line, "    ")
