"""A review for a terminal: what changed, what it does, what it breaks, what has to follow; and a verdict."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.law.not_judged import not_judged_words
from formula_vcs.reports import duty_words, review_document, review_extras
from formula_vcs.reports.check.text import place
from formula_vcs.reports.diff import text as diff_text
from formula_vcs.reports.terminal import WIDTH, Ink, columns
from formula_vcs.review.compare import Comparison, Review


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the four parts for every recipe that differs, then the verdict on all."""
    ink = Ink(out)
    diff_text.opening(ink, title)
    accepted(ink, comparison)
    differ, _ = review_document.alike(comparison)
    for review in differ:
        diff_text.heading(ink, review, review_document.said(review))
        diff_text.changed(ink, review)
        diff_text.does(ink, review)
        breaks(ink, review)
        follows(ink, review, evidence=evidence)
    diff_text.closing(ink, comparison)
    if differ:
        verdict(ink, comparison, blocked=blocked)


def accepted(ink: Ink, comparison: Comparison) -> None:
    """Write first what is accepted of the law."""
    found = review_extras.accepted(comparison)
    if found:
        ink.line(ink.paint(f"{review_extras.ACCEPTED}:", "warn"))
    for finding in found:
        ink.wrapped(review_extras.accepted_words(finding), "  ", "      ")
    if found:
        ink.line()


def breaks(ink: Ink, review: Review) -> None:
    """Write part 3: findings new with their causes, gone, and still there."""
    diff_text.part(ink, "What it breaks")
    if not review.new:
        ink.line("    nothing new")
    for item in review.new:
        place(ink, item.finding, "    ")
        for words in review_document.because(item.causes, review.changes):
            ink.wrapped(words, "        because ", " " * 10)
    for coming in review.ahead:
        ink.wrapped(review_extras.when(coming), "    ", "      ", style="strong")
        place(ink, coming.finding, "      ")
        for words in review_extras.why(coming):
            ink.wrapped(words, "          ", " " * 12)
        for words in review_document.because(coming.causes, review.changes):
            ink.wrapped(words, "          because ", " " * 12)
    if review.gone:
        ink.line(f"    {ink.paint('gone:', 'strong')}")
    for finding, cure in review_document.cured(review):
        place(ink, finding, "      ")
        for words in review_document.because(cure, review.changes):
            ink.wrapped(words, "          cured by ", " " * 12)
    if review.still:
        ink.line(f"    {ink.paint('still there:', 'strong')}")
    for finding in review.still:
        place(ink, finding, "      ")
    ink.line()


def follows(ink: Ink, review: Review, *, evidence: bool) -> None:
    """Write part 4: duties by owner, each with the evidence that it outdates and its trigger; sources at the end."""
    diff_text.part(ink, "What has to follow")
    sources = duty_words.Sources(review.duties)
    for owner, duties in duty_words.by_owner(review.duties).items():
        for duty in duties:
            words = f"{owner}: {duty.duty}; {duty.touches} {sources.mark(duty)}"
            ink.wrapped(words, "    ", " " * 8, style="strong")
            told, why = duty_words.told(duty), duty_words.why(duty, review)
            short = f"{told}; {why}"
            for more in filter(None, [short] if told and why and columns(short) <= WIDTH - 8 else [told, why]):
                ink.wrapped(more, "        ")
    nothing = "" if review.duties else duty_words.nothing(review, evidence=evidence)
    for words in (nothing, *duty_words.quiet(review), duty_words.ruler(review), sources.listed()):
        if words:
            ink.wrapped(words, "    ")
    ink.line()


def verdict(ink: Ink, comparison: Comparison, *, blocked: bool) -> None:
    """Write the one line that says whether this may go in, and who decides besides."""
    if comparison.not_judged:
        ink.wrapped(not_judged_words(comparison.not_judged))
    found = review_document.verdict(comparison.reviews)
    if found:
        ink.wrapped(f"blocked by {', '.join(found)}", style="block")
    elif blocked:
        ink.wrapped("nothing blocks by itself, but findings are as bad as --fail-on says", style="block")
    else:
        ink.line("nothing blocks")
        ink.wrapped(review_document.CAUTION)
