"""A dossier as markdown."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.law.dossier import Dossier, known_as
from formula_vcs.reports.explain import words
from formula_vcs.reports.table_markdown import Page


def write(found: Dossier, *, out: TextIO) -> None:
    """Write what it is and what is said of it."""
    page = Page(out)
    page.heading(2, known_as(found))
    page.table(("", ""), words.facts(found))
    for title, rows in words.ruled(found):
        page.heading(3, title)
        if rows:
            page.table(("entry", "what it says"), rows)
        else:
            page.paragraph("No entry names it.")
    page.paragraph(words.NOT_HERE)
