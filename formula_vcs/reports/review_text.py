"""A review for a terminal: what changed, what it does, what it breaks, what has to follow; and a verdict."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.changes.compare import Comparison, Review
from formula_vcs.reports import diff_text, outline
from formula_vcs.reports.check_text import place
from formula_vcs.reports.ink import Ink


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the four parts for every recipe that differs, then the verdict on all."""
    ink = Ink(out)
    diff_text.opening(ink, title)
    differ, _ = outline.alike(comparison)
    for review in differ:
        diff_text.heading(ink, review, outline.said(review))
        diff_text.changed(ink, review)
        diff_text.does(ink, review)
        breaks(ink, review)
        follows(ink, review, evidence=evidence)
    diff_text.closing(ink, comparison)
    if differ:
        verdict(ink, comparison, blocked=blocked)


def breaks(ink: Ink, review: Review) -> None:
    """Write part 3: findings new with their causes, gone, and still there."""
    diff_text.part(ink, "What it breaks")
    if not review.new:
        ink.line("    nothing new")
    for item in review.new:
        place(ink, item.finding, "    ")
        for words in outline.because(item.causes, review.changes):
            ink.wrapped(words, "        because ", " " * 10)
    for title, findings in (("gone:", review.gone), ("still there:", review.still)):
        if findings:
            ink.line(f"    {ink.paint(title, 'strong')}")
        for finding in findings:
            place(ink, finding, "      ")
    ink.line()


def follows(ink: Ink, review: Review, *, evidence: bool) -> None:
    """Write part 4: duties, each with its trigger, the evidence that it outdates, and the source."""
    diff_text.part(ink, "What has to follow")
    for duty in review.duties:
        ink.wrapped(f"{duty.duty} ({duty.owner}); outdates {duty.evidence}; {duty.source}", "    ")
        for words in outline.because(duty.because, review.changes):
            ink.wrapped(words, "        because ", " " * 10)
    if not review.duties:
        ink.wrapped(outline.no_duties(evidence=evidence), "    ")
    ink.line()


def verdict(ink: Ink, comparison: Comparison, *, blocked: bool) -> None:
    """Write the one line that says whether this may go in, and who decides besides."""
    found = outline.verdict(comparison.reviews)
    if found:
        ink.wrapped(f"blocked by {', '.join(found)}", style="block")
    elif blocked:
        ink.wrapped("nothing blocks by itself, but findings are as bad as --fail-on says", style="block")
    else:
        ink.line("nothing blocks")
        ink.wrapped(outline.CAUTION)
