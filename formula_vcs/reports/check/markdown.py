"""Findings as markdown, for a pull request."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TextIO

from formula_vcs.law.not_judged import not_judged_words
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.reports.check.text import CAUTION, RESTS, rests
from formula_vcs.reports.review_document import counted
from formula_vcs.reports.table_markdown import Page, told
from formula_vcs.rules.accepted import accept_lines
from formula_vcs.words.escape import terminal


def write(
    findings: list[Finding],
    *,
    blocked: bool,
    recipes: int,
    out: TextIO,
    how: bool = False,
    not_judged: Sequence[str] = (),
) -> None:
    """Write the verdict, then the findings in a table, then who decides.

    With ``how``, the lines that accept what can be accepted stand below the table.
    """
    page = Page(out)
    counts = Counter(finding.severity for finding in findings)
    parts = [f"{counts[severity]} {severity}" for severity in SEVERITIES if counts[severity]]
    verdict = "**blocked**" if blocked else "nothing blocks"
    page.heading(2, "Recipe check")
    page.line(f"{counted(recipes, 'recipe')}: {', '.join(parts) or 'no findings'}; {verdict}.")
    page.line()
    if findings:
        page.table(
            ("severity", "where", "rule", "finding"),
            ((f.severity, f"{f.path}:{f.line}:{f.column}", f.rule, told(f)) for f in findings),
        )
    for finding, lines in ((finding, accept_lines(finding)) for finding in findings if how):
        if lines:
            page.line(f"To accept {page.text(f'{finding.path}:{finding.line}')}:")
            page.line()
            # an indented block: nothing in it is markdown
            page.line("".join(f"    {terminal(line)}\n" for line in lines.splitlines()))
    if rests(findings):
        page.paragraph(RESTS)
    if not_judged:
        page.paragraph(not_judged_words(not_judged))
    if not blocked:
        page.paragraph(CAUTION)
