"""A batch among its peers, for a terminal."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports.peers import words
from formula_vcs.reports.review_document import counted
from formula_vcs.reports.terminal import Ink
from formula_vcs.trace.peers import Among, PeerRow


def write(found: Among, *, out: TextIO) -> None:
    """Write what stands out, then the results, then how many of the rest do not."""
    ink = Ink(out)
    ink.wrapped(words.title(found), style="strong")
    for line in (*words.verdicts(found), *words.fresh(found)):
        ink.wrapped(line, "  ", "    ")
    for kind, head in words.heads().items():
        rows = [row for row in found.rows if row.kind == kind]
        _kind(ink, head, rows, all_of_them=kind == "result")
    ink.line()
    ink.wrapped(words.HOW, "  ", style="dim")


def _kind(ink: Ink, head: str, rows: list[PeerRow], *, all_of_them: bool) -> None:
    if not rows:
        return
    ink.line()
    ink.line(ink.paint(head, "strong"))
    listed = [row for row in rows if all_of_them or row.stands_out]
    for row in listed:
        mark = "  ! " if row.stands_out else "    "
        ink.wrapped(f"{words.name(row)}: {row.value}", mark, "      ", "warn" if row.stands_out else "")
        parts = [part for part in (words.usual(row), words.far(row), words.spec(row)) if part]
        ink.wrapped("; ".join(parts), "        ")
    rest = len(rows) - len(listed)
    if rest:
        few = sum(row.found is None or row.found.limit is None for row in rows if row not in listed)
        lone = f"; {few} of them {'has' if few == 1 else 'have'} too few peers to say" if few else ""
        ink.wrapped(
            f"{counted(rest, 'value')} that {'does' if rest == 1 else 'do'} not stand out{lone}", "    ", "      "
        )
