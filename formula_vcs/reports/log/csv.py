"""The versions of a recipe as CSV (RFC 4180), the oldest first: for a spreadsheet.

Words that a spreadsheet would take for a formula get an apostrophe in front; numbers are decimals with every digit, or
with twenty where there is no end to them, as "1/3" would be read as a day.
"""

from __future__ import annotations

import csv
from decimal import Context, Decimal
from fractions import Fraction
from typing import Final, TextIO

from formula_vcs.model.numbers import exact_text
from formula_vcs.reports import commit_words
from formula_vcs.reports.harmless import terminal
from formula_vcs.reports.log import sheet as logs
from formula_vcs.reports.log.sheet import LogSheet, Row

_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
_DIGITS: Final = Context(prec=20)
_HEADS: Final = ("date", "commit", "author", "subject", "reason", "status", "only_under", "changes")


def write(sheet: LogSheet, *, out: TextIO) -> None:
    """Write a head and one version a row; each figure has a column for its unit."""
    names = logs.columns(sheet)
    figures = [head for name in names for head in (name, f"{name}_unit")]
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*_HEADS, *figures])
    for row in sheet.rows:
        writer.writerow([*_words(row), *_numbers(row, names)])


def _words(row: Row) -> list[str]:
    commit = row.version.commit
    reason = commit.reason or ""
    texts = (commit.day, commit.oid, commit_words.who(commit), commit.subject, reason, row.version.status)
    under = "yes" if row.under else "no"
    return [cell(text) for text in (*texts, under, "; ".join(row.words))]


def _numbers(row: Row, names: tuple[str, ...]) -> list[str]:
    found: list[str] = []
    for name in names:
        figure = row.figures.get(name)
        known = figure is not None and figure.value is not None
        found.append(number(figure.value) if figure is not None and figure.value is not None else "")
        found.append(cell(figure.unit) if figure is not None and known else "")
    return found


def cell(text: str) -> str:
    """Make words harmless for a spreadsheet."""
    visible = terminal(text)
    return f"'{visible}" if text.startswith(_FORMULA) or visible.startswith(_FORMULA) else visible


def number(value: Fraction) -> str:
    """Write a number as a decimal."""
    text = exact_text(value)
    if "/" not in text:
        return text
    return f"{_DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator)):f}"
