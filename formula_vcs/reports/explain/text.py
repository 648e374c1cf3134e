"""A dossier for a terminal."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.law.dossier import Dossier, known_as
from formula_vcs.reports.explain import words
from formula_vcs.reports.terminal import Ink


def write(found: Dossier, *, out: TextIO) -> None:
    """Write what it is and what is said of it."""
    ink = Ink(out)
    ink.wrapped(known_as(found), style="strong")
    for word, what in words.facts(found):
        ink.wrapped(f"{word}: {what}", "  ", "      ")
    for title, rows in words.ruled(found):
        ink.line()
        ink.wrapped(title, style="strong")
        for cited, said in rows:
            ink.wrapped(cited, "  ", "    ", style="dim")
            ink.wrapped(said, "    ", "    ")
        if not rows:
            ink.line("  no entry names it")
    ink.line()
    ink.wrapped(words.NOT_HERE)
