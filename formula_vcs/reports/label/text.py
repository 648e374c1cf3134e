"""An ingredient list for a terminal: as it would be printed, and as a table."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.model.recipe import Recipe
from formula_vcs.reports.sheets import Label, RevisionShown
from formula_vcs.reports.show import words as show_words
from formula_vcs.reports.terminal import WIDTH, Ink, at_point, columns, cut
from formula_vcs.words.escape import terminal

CAUTION = "Names, order and market rules follow the stated data: the responsible person decides what is printed."


def write(label: Label, recipe: Recipe, moment: RevisionShown, *, out: TextIO) -> None:
    """Write a list."""
    ink = Ink(out)
    name = terminal(recipe.id)
    ink.line(f"{ink.paint(name, 'strong')}  {cut(terminal(recipe.title), WIDTH - columns(name) - 2)}")
    ink.wrapped(f"ingredient list for {label.market}, {moment.revision}", style="dim")
    ink.line()
    printed(ink, label)
    ink.line()
    _table(ink, label)
    ink.line()
    ink.wrapped(CAUTION)


def printed(ink: Ink, label: Label, lead: str = "") -> None:
    """Write the list as it would be printed, and what cannot be in it."""
    ink.wrapped(label.printed or "nothing to list", lead, lead)
    for fact in label.missing:
        ink.wrapped(f"not complete: {fact}", lead, f"{lead}  ")


def _table(ink: Ink, label: Label) -> None:
    rows = list(show_words.label_rows(label))
    for (inci, _, starts), share in zip(rows, at_point([share for _, share, _ in rows]), strict=True):
        if starts:
            ink.line(f"  {ink.paint(f'-- {starts} --', 'dim')}")
        ink.line(f"  {share} %  {cut(terminal(inci), WIDTH - columns(share) - 6)}")
