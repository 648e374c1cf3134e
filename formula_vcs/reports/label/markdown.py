"""An ingredient list as markdown."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.model.recipe import Recipe
from formula_vcs.reports.label.text import CAUTION
from formula_vcs.reports.sheets import Label, RevisionShown
from formula_vcs.reports.show import words as show_words
from formula_vcs.reports.table_markdown import Page


def write(label: Label, recipe: Recipe, moment: RevisionShown, *, out: TextIO) -> None:
    """Write a list as it would be printed, and as a table."""
    page = Page(out)
    page.heading(2, f"{recipe.title} ({recipe.id}): ingredient list for {label.market}, {moment.revision}")
    printed(page, label)
    page.table(
        ("%", "name", ""),
        ((share, inci, starts) for inci, share, starts in show_words.label_rows(label)),
        numbers=(0,),
    )
    page.paragraph(CAUTION)


def printed(page: Page, label: Label) -> None:
    """Write the list as it would be printed, and what cannot be in it."""
    page.paragraph(label.printed or "nothing to list")
    if label.missing:
        page.items(f"not complete: {fact}" for fact in label.missing)
        page.line()
