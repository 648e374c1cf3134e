"""A batch among its peers, as markdown."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports.peers import words
from formula_vcs.reports.table_markdown import Page
from formula_vcs.trace.peers import Among


def write(found: Among, *, out: TextIO) -> None:
    """Write all values, those that stand out first."""
    page = Page(out)
    page.heading(2, words.title(found))
    for line in (*words.verdicts(found), *words.fresh(found)):
        page.paragraph(line)
    for kind, head in words.heads().items():
        rows = [row for row in found.rows if row.kind == kind]
        if rows:
            page.heading(3, head)
            page.table(
                ("", "value", "peers", "how far", "spec"),
                (
                    (
                        f"{'! ' if row.stands_out else ''}{words.name(row)}",
                        str(row.value),
                        words.usual(row),
                        words.far(row),
                        words.spec(row),
                    )
                    for row in rows
                ),
            )
    page.paragraph(words.HOW)
