"""A review as markdown, for a pull request."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.changes.compare import Comparison, Review
from formula_vcs.reports import diff_markdown, outline
from formula_vcs.reports.harmless import markdown
from formula_vcs.reports.table_markdown import Page, said


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the verdict on all first, then the four parts for every recipe that differs."""
    page = Page(out)
    page.heading(2, f"Recipe review: {title}")
    differ, _ = outline.alike(comparison)
    if differ:
        page.line(verdict(comparison, blocked=blocked))
        page.line()
    for review in differ:
        diff_markdown.heading(page, review, outline.said(review))
        diff_markdown.changed(page, review)
        diff_markdown.does(page, review)
        breaks(page, review)
        follows(page, review, evidence=evidence)
    diff_markdown.closing(page, comparison)
    if differ and not blocked:
        page.paragraph(outline.CAUTION)


def verdict(comparison: Comparison, *, blocked: bool) -> str:
    """Give the one line that says whether this may go in."""
    found = outline.verdict(comparison.reviews)
    if found:
        return f"**Blocked** by {markdown(', '.join(found))}."
    return "Nothing blocks by itself, but findings are as bad as --fail-on says." if blocked else "Nothing blocks."


def breaks(page: Page, review: Review) -> None:
    """Write part 3."""
    page.heading(4, "What it breaks")
    for item in review.new:
        page.line(f"- new: {said(item.finding)}")
        page.items((f"because {words}" for words in outline.because(item.causes, review.changes)), 1)
    for name, findings in (("gone", review.gone), ("still there", review.still)):
        for finding in findings:
            page.line(f"- {name}: {said(finding)}")
    if not (review.new or review.gone or review.still):
        page.line("Nothing new.")
    page.line()


def follows(page: Page, review: Review, *, evidence: bool) -> None:
    """Write part 4."""
    page.heading(4, "What has to follow")
    for duty in review.duties:
        page.items([f"{duty.duty} ({duty.owner}); outdates {duty.evidence}; {duty.source}"])
        page.items((f"because {words}" for words in outline.because(duty.because, review.changes)), 1)
    if not review.duties:
        page.line(f"{outline.no_duties(evidence=evidence).capitalize()}.")
    page.line()
