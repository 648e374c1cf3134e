"""The versions of a recipe as CSV (RFC 4180), the oldest first: for a spreadsheet.

Words that a spreadsheet would take for a formula get an apostrophe in front; numbers are decimals with every digit, or
with twenty where there is no end to them, as "1/3" would be read as a day.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from decimal import Context, Decimal
from fractions import Fraction
from typing import Final, TextIO

from formula_vcs.reports import commit_words
from formula_vcs.reports.log import sheet as logs
from formula_vcs.reports.log.sheet import LogRow, LogSheet
from formula_vcs.words.escape import CELL, spreadsheet, terminal
from formula_vcs.words.numbers import exact_text

_DIGITS: Final = Context(prec=20)
_ROOM: Final = 100  # for how many more there are
_HEADS: Final = ("date", "commit", "author", "subject", "reason", "status", "only_under", "changes")


def write(sheet: LogSheet, *, out: TextIO) -> None:
    """Write a head and one version a row; each figure has a column for its unit."""
    names = logs.columns(sheet)
    figures = [head for name in names for head in (name, f"{name}_unit")]
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*_HEADS, *figures])
    for row in sheet.rows:
        writer.writerow([*_words(row), *_numbers(row, names)])


def _words(row: LogRow) -> list[str]:
    commit = row.version.commit
    reason = commit.reason or ""
    texts = (commit.day, commit.oid, commit_words.who(commit), commit.subject, reason, row.version.status)
    under = "yes" if row.under else "no"
    return [spreadsheet(text) for text in (*texts, under, _changes(row.words))]


def _changes(words: Sequence[str]) -> str:
    """Give the changes in one cell; those that have no room there are counted."""
    room = CELL - _ROOM
    for number, text in enumerate(words):
        room -= len(terminal(text)) + 2
        if room < 0:
            return "; ".join((*words[:number], f"and {len(words) - number} more changes"))
    return "; ".join(words)


def _numbers(row: LogRow, names: tuple[str, ...]) -> list[str]:
    found: list[str] = []
    for name in names:
        figure = row.figures.get(name)
        known = figure is not None and figure.value is not None
        found.append(number(figure.value) if figure is not None and figure.value is not None else "")
        found.append(spreadsheet(figure.unit) if figure is not None and known else "")
    return found


def number(value: Fraction) -> str:
    """Write a number as a decimal."""
    text = exact_text(value)
    if "/" not in text:
        return text
    return f"{_DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator)):f}"
