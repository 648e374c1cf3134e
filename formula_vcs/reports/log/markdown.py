"""The versions of a recipe as markdown: a table, the newest first."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.history.crossing import Crossing
from formula_vcs.reports import commit_words
from formula_vcs.reports.log import sheet as logs
from formula_vcs.reports.log import text as log_text
from formula_vcs.reports.log import when as when_words
from formula_vcs.reports.log.sheet import LogRow, LogSheet
from formula_vcs.reports.table_markdown import Page
from formula_vcs.words.escape import markdown


def write(sheet: LogSheet, *, out: TextIO) -> None:
    """Write the answer to --above or --below, else all versions."""
    page = Page(out)
    page.heading(2, log_text.heading(sheet))
    page.paragraph(logs.made(sheet))
    if sheet.when is not None:
        _when(page, sheet)
        return
    names = logs.columns(sheet)
    heads = [f"{logs.called(sheet, name)} {logs.unit(sheet, name)}".rstrip() for name in names]
    page.table(
        ("date", "commit", "author", *map(markdown, heads), "what changed"),
        (_row(row, names) for row in sheet.rows[::-1]),
        numbers=tuple(range(3, 3 + len(names))),
    )
    for note in (note for note in log_text.notes(sheet) if not note.startswith("~")):
        page.paragraph(note)


def _row(row: LogRow, names: tuple[str, ...]) -> tuple[str, ...]:
    commit = row.version.commit
    words = "; ".join((": ".join(commit_words.told(commit)), *row.words))
    figures = (logs.shown(row.figures.get(name)) for name in names)
    return (
        commit.day, commit_words.name(commit), commit_words.who(commit), *figures,
        f"{'under it: ' if row.under else ''}{words}",
    )  # fmt: skip


def _when(page: Page, sheet: LogSheet) -> None:
    when = sheet.when
    if when is None:
        return
    unit = logs.unit(sheet, when.line.figure)
    page.paragraph(f"{when_words.question(when, unit)}? {when_words.verdict(sheet, when, unit)}.")
    for crossing in when.crossings:
        _crossing(page, crossing)
    page.paragraph(when_words.now_words(when, unit))
    for note in log_text.closing(sheet):
        page.paragraph(note)


def _crossing(page: Page, crossing: Crossing) -> None:
    commit = crossing.version.commit
    back = "back: " if crossing.back else ""
    head = f"{commit.day} {commit_words.name(commit)}, {commit_words.who(commit)}: {back}{when_words.step(crossing)}"
    page.items([head])
    page.items(commit_words.told(commit), 1)
    page.items((when_words.doer_words(doer, crossing) for doer in crossing.doers), 1)
    page.items(when_words.remarks(crossing), 1)
    page.line()
