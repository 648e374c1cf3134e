"""Blame as markdown: a table a group of lines, and the commits with their reasons."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import TextIO

from formula_vcs.git.commit_log import Commit
from formula_vcs.reports import commit_words
from formula_vcs.reports.blame import text as blame_text
from formula_vcs.reports.blame.sheet import BlameLine, BlameSheet
from formula_vcs.reports.table_markdown import Page


def write(sheet: BlameSheet, *, out: TextIO) -> None:
    """Write all lines, then the commits."""
    page = Page(out)
    page.heading(2, f"Who last changed {sheet.recipe.title} ({sheet.recipe.id}), {sheet.revision}")
    for group, lines in groupby(sheet.lines, key=lambda line: line.group):
        page.heading(3, group)
        page.table(("commit", "date", "author", "line"), (row for line in lines for row in _rows(line)))
    page.heading(3, "Commits")
    page.table(("commit", "date", "author", "subject", "reason"), map(_commit, sheet.commits))
    if sheet.cut:
        page.paragraph(f"What is owed to the oldest commit here is as old {commit_words.SHALLOW}.")


def _rows(line: BlameLine) -> Iterator[tuple[str, ...]]:
    for commit, text, deep in blame_text.said(line):
        words = f"{line.name}: {text}" if deep else text
        yield commit_words.name(commit), commit.day, commit_words.who(commit), words


def _commit(commit: Commit) -> tuple[str, ...]:
    return commit_words.name(commit), commit.day, commit_words.who(commit), commit.subject, commit.reason or ""
