"""A review for a terminal: what changed, what it does, what it breaks, what has to follow; and a verdict."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.law.not_judged import not_judged_words
from formula_vcs.reports import duty_words, review_document, review_extras
from formula_vcs.reports.diff import text as diff_text
from formula_vcs.reports.document.blocks import FindingLine
from formula_vcs.reports.document.text import write_blocks
from formula_vcs.reports.terminal import WIDTH, Ink, columns
from formula_vcs.review.compare import Comparison, Review
from formula_vcs.words.escape import terminal


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the four parts for every recipe that differs, those that block first, then the verdict on all."""
    ink = Ink(out)
    diff_text.opening(ink, title)
    loosened(ink, comparison)
    accepted(ink, comparison)
    differ = sorted(review_document.alike(comparison)[0], key=lambda review: not review.blocked)
    sources = duty_words.Sources(duty for review in differ for duty in duty_words.parted(review.duties)[0])
    for review in differ:
        diff_text.heading(ink, review, review_document.said(review))
        diff_text.changed(ink, review)
        diff_text.does(ink, review)
        breaks(ink, review)
        follows(ink, review, sources, evidence=evidence)
    for words in duty_words.rests(differ, sources):
        ink.wrapped(words)
    diff_text.closing(ink, comparison)
    if differ or comparison.guard:
        verdict(ink, comparison, blocked=blocked)


def loosened(ink: Ink, comparison: Comparison) -> None:
    """Write before all else what makes the judgement milder or blinder, with what only passes because of it."""
    if comparison.guard:
        ink.wrapped(f"{review_extras.LOOSENED}:", style="block")
    for finding, item in review_extras.loosened(comparison):
        spot = f"{terminal(finding.path)}:{finding.line}:{finding.column}"
        ink.line(f"  {ink.paint(finding.severity, finding.severity)} [{finding.rule}] {spot}")
        ink.wrapped(review_extras.loosened_words(finding, item), "      ")
    if comparison.guard:
        ink.line()


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
    """Write part 3: findings new with their causes, what the law will not allow, gone, and still there."""
    blocking = [finding for finding in review.still if finding.severity == "block"]
    rest = review_document.still_counted(review, besides="block")
    if not (review.new or review.ahead or review.gone or blocking):
        diff_text.sentence(ink, "What it breaks", "; ".join(filter(None, ("nothing new", rest))))
        return
    diff_text.part(ink, "What it breaks")
    if not review.new:
        ink.line("    nothing new")
    for item in review.new:
        write_blocks(ink, [FindingLine(item.finding, indent=4)])
        for words in review_document.because(item.causes, review.changes):
            ink.wrapped(words, "        because ", " " * 10)
    _ahead(ink, review)
    _gone(ink, review)
    if blocking:
        ink.line(f"    {ink.paint('still there:', 'strong')}")
    for finding in blocking:
        write_blocks(ink, [FindingLine(finding, indent=6)])
    if rest:
        ink.wrapped(rest, "    ")
    ink.line()


def _ahead(ink: Ink, review: Review) -> None:
    for coming in review.ahead:
        ink.wrapped(review_extras.when(coming), "    ", "      ", style="strong")
        write_blocks(ink, [FindingLine(coming.finding, indent=6)])
        for words in review_extras.why(coming):
            ink.wrapped(words, "          ", " " * 12)
        for words in review_document.because(coming.causes, review.changes):
            ink.wrapped(words, "          because ", " " * 12)


def _gone(ink: Ink, review: Review) -> None:
    if review.gone:
        ink.line(f"    {ink.paint('gone:', 'strong')}")
    for finding, cure in review_document.cured(review):
        write_blocks(ink, [FindingLine(finding, indent=6)])
        for words in review_document.because(cure, review.changes):
            ink.wrapped(words, "          cured by ", " " * 12)


def follows(ink: Ink, review: Review, sources: duty_words.Sources, *, evidence: bool) -> None:
    """Write part 4: duties by owner, each with the evidence that it outdates and its trigger; sources by number."""
    brought, before = duty_words.parted(review.duties)
    nothing = "" if review.duties else duty_words.nothing(review, evidence=evidence)
    quiet = [words for words in (nothing, before, *duty_words.quiet(review)) if words]
    if not brought and len(quiet) == 1:
        diff_text.sentence(ink, "What has to follow", quiet[0])
        return
    diff_text.part(ink, "What has to follow")
    for owner, duties in duty_words.by_owner(brought).items():
        for duty in duties:
            words = f"{owner}: {duty.duty}; {duty.touches} {sources.mark(duty)}"
            ink.wrapped(words, "    ", " " * 8, style="strong")
            told, why = duty_words.told(duty), duty_words.why(duty, review)
            short = f"{told}; {why}"
            for more in filter(None, [short] if told and why and columns(short) <= WIDTH - 8 else [told, why]):
                ink.wrapped(more, "        ")
    for words in quiet:
        ink.wrapped(words, "    ")
    ink.line()


def verdict(ink: Ink, comparison: Comparison, *, blocked: bool) -> None:
    """Write the one line that says whether this may go in, and who decides besides."""
    if comparison.not_judged:
        ink.wrapped(not_judged_words(comparison.not_judged))
    found = review_document.blocked_by(comparison)
    if found:
        ink.wrapped(f"blocked by {', '.join(found)}", style="block")
    elif blocked:
        ink.wrapped("nothing blocks by itself, but findings are as bad as --fail-on says", style="block")
    else:
        ink.line(review_document.calm(comparison))
        ink.wrapped(review_document.CAUTION)
