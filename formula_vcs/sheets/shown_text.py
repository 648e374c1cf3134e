"""Texts in cells: what can stand in one, and what a table of separated values has to protect; each way undone."""

from __future__ import annotations

from typing import Final

from formula_vcs.words.escape import CELL, shortened, terminal

# What a spreadsheet takes for a formula (OWASP, "CSV Injection"), in full width too.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def cell_text(text: str) -> str:
    """Give a text as a cell can hold it: what cannot be seen by its code, and not longer than a cell."""
    return shortened(terminal(text), CELL)


def says(cell: str, on_file: object) -> bool:
    """Say whether a cell says what a file says, as far as a cell can: blanks and what cannot be seen do not count."""
    if not isinstance(on_file, str):
        return False
    return " ".join(cell.split()) in (" ".join(cell_text(on_file).split()), " ".join(on_file.split()))


def protected(text: str) -> str:
    """Give a text for a table of separated values, so that no program takes it for a formula.

    >>> protected("=1+1"), protected("'=1"), protected("glycerin")
    ("'=1+1", "''=1", 'glycerin')
    """
    return f"'{text}" if _acts(text.lstrip("'")) else text


def _acts(text: str) -> bool:
    """Say whether a text is a formula to a spreadsheet, or, printed, a command to a runner: ``::error``."""
    return text.startswith(_FORMULA) or text.lstrip().startswith("::")


def unprotected(text: str) -> str:
    """Undo `protected`.

    >>> unprotected("'=1+1"), unprotected("'=1"), unprotected("'tis")
    ('=1+1', '=1', "'tis")
    """
    return text[1:] if text.startswith("'") and _acts(text.lstrip("'")) else text
