"""A review as markdown, to be the one comment of a pull request: it fits there whatever the change."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Final, TextIO

from formula_vcs.diff.change import Change
from formula_vcs.law.not_judged import not_judged_words
from formula_vcs.reports import duty_words, review_document, review_extras
from formula_vcs.reports.diff import markdown as diff_markdown
from formula_vcs.reports.fit_comment import Section, fitted
from formula_vcs.reports.table_markdown import Page
from formula_vcs.review.compare import Comparison, Review
from formula_vcs.words.escape import markdown, shortened, summary
from formula_vcs.words.imitation import headed

# the first line: by it a job knows its own comment again
MARKER: Final = "<!-- git-formula:review -->"
OPEN: Final = 3  # recipes that stand open; more are folded, but for those that block
LONG: Final = 12  # changes, findings still there, causes: what stands open of them
MOST: Final = 400  # characters of one name or sentence
NAMED: Final = 10  # what the verdict names
MOST_LOOSENED: Final = 40


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the verdict on all first, then the four parts for every recipe that differs, those that block first."""
    differ = sorted(review_document.alike(comparison)[0], key=lambda review: not review.blocked)

    def head(page: Page) -> None:
        page.line(MARKER)
        page.heading(2, f"Recipe review: {title}")
        if differ or comparison.guard:
            page.line(verdict(comparison, blocked=blocked))
            page.line()
        loosened(page, comparison)
        accepted(page, comparison)

    def tail(page: Page) -> None:
        diff_markdown.closing(page, comparison)
        words = [not_judged_words(comparison.not_judged)] if differ and comparison.not_judged else []
        words += [review_document.CAUTION] if differ and not blocked else []
        if words:
            page.paragraph(" ".join(words))

    folded = len(differ) > OPEN
    sections = [_section(review, folded=folded, evidence=evidence) for review in differ]
    out.write(fitted(_written(head), sections, _written(tail)))


def _written(part: Callable[[Page], None]) -> str:
    out = io.StringIO()
    part(Page(out, MOST))
    return out.getvalue()


def _section(review: Review, *, folded: bool, evidence: bool) -> Section:
    """Lay out one recipe: its name and verdict, and the four parts."""

    def heading(page: Page) -> None:
        if folded:
            name = shortened(headed(review.title, review.recipe), MOST)
            page.line(f"<details{' open' if review.blocked else ''}>")
            page.line(f"<summary><b>{summary(name)}</b>: {summary(review_document.said(review))}</summary>")
            page.line()
        else:
            diff_markdown.heading(page, review, review_document.said(review))

    parts: tuple[Callable[[Page], None], ...] = (
        lambda page: changed(page, review),
        lambda page: diff_markdown.does(page, review, folded=True),
        lambda page: breaks(page, review),
        lambda page: follows(page, review, evidence=evidence),
    )
    closing = "</details>\n\n" if folded else ""
    name = markdown(shortened(review.recipe, 100))
    return Section(name, _written(heading), tuple(map(_written, parts)), closing)


def verdict(comparison: Comparison, *, blocked: bool) -> str:
    """Give the one line that says whether this may go in."""
    found = review_document.blocked_by(comparison)
    if found:
        named = [markdown(shortened(name, 200)) for name in found[:NAMED]]
        more = f" and {len(found) - NAMED} more" if len(found) > NAMED else ""
        return f"**Blocked** by {', '.join(named)}{more}."
    if blocked:
        return "Nothing blocks by itself, but findings are as bad as --fail-on says."
    calm = review_document.calm(comparison)
    return f"{calm[0].upper()}{calm[1:]}."


def loosened(page: Page, comparison: Comparison) -> None:
    """Write before all else what makes the judgement milder or blinder.

    Of thousands, which would push the page over a host's limit, those that hide the least are counted by kind.
    """
    found = review_extras.loosened(comparison)
    if found:
        page.line(f"**{review_extras.LOOSENED}:**")
        page.line()
    for finding, item in found[:MOST_LOOSENED]:
        spot = page.text(f"{finding.path}:{finding.line}")
        words = page.text(review_extras.loosened_words(finding, item))
        page.line(f"- **{finding.severity}** {spot} \\[{finding.rule}\\] {words}")
    rest = Counter(finding.rule for finding, _ in found[MOST_LOOSENED:])
    if rest:
        counted = ", ".join(f"{count} {rule}" for rule, count in rest.most_common())
        page.line(f"- and {sum(rest.values())} more: {counted}; `git formula review` says all of them")
    if found:
        page.line()


def accepted(page: Page, comparison: Comparison) -> None:
    """Write first what is accepted of the law."""
    found = [review_extras.accepted_words(finding) for finding in review_extras.accepted(comparison)]
    if found:
        page.line(f"**{review_extras.ACCEPTED}:**")
        page.line()
        page.items(found[:LONG])
        if len(found) > LONG:
            page.items([f"and {len(found) - LONG} more"])
        page.line()


def changed(page: Page, review: Review) -> None:
    """Write part 1; of a long one the rest is folded."""
    rows = [] if review_document.whole(review) else review_document.rows(review.changes, review.swaps)
    if len(rows) <= LONG:
        diff_markdown.changed(page, review)
        return
    page.heading(4, "What changed")
    diff_markdown.rows(page, rows[:LONG])
    with_rest = f"{review_document.counted(len(rows) - LONG, 'change')} more"
    _folded(page, with_rest, lambda: diff_markdown.rows(page, rows[LONG:]))


def breaks(page: Page, review: Review) -> None:
    """Write part 3; what was there before and does not block is counted."""
    page.heading(4, "What it breaks")
    for item in review.new:
        page.line(f"- new: {page.finding(item.finding)}")
        because(page, item.causes, review.changes)
    for ahead in review.ahead:
        page.line(f"- **{page.text(review_extras.when(ahead))}**: {page.finding(ahead.finding)}")
        page.items(review_extras.why(ahead), 1)
        because(page, ahead.causes, review.changes)
    for finding, cure in review_document.cured(review):
        page.line(f"- gone: {page.finding(finding)}")
        because(page, cure, review.changes, "cured by")
    blocking = [finding for finding in review.still if finding.severity == "block"]
    for finding in blocking[:LONG]:
        page.line(f"- still there: {page.finding(finding)}")
    quiet = not (review.new or review.ahead or review.gone or blocking)
    if not quiet:
        page.line()
    rest = review_document.still_counted(review, besides="" if blocking[LONG:] else "block")
    said = ["Nothing new."] * quiet + [f"{rest[:1].upper()}{rest[1:]}."] * bool(rest)
    if said:
        page.paragraph(" ".join(said))


def because(page: Page, causes: Sequence[str] | None, changes: Iterable[Change], word: str = "because") -> None:
    """Write the changes that bring something, below it."""
    words = review_document.because(causes, changes)
    page.items((f"{word} {text}" for text in words[:LONG]), 1)
    if len(words) > LONG:
        page.items([f"and {review_document.counted(len(words) - LONG, 'change')} more"], 1)


def _folded(page: Page, title: str, content: Callable[[], None]) -> None:
    page.line(f"<details><summary>{summary(title)}</summary>")
    page.line()
    content()
    page.line()
    page.line("</details>")
    page.line()


def follows(page: Page, review: Review, *, evidence: bool) -> None:
    """Write part 4: duties by owner; how far everything moved, and the sources, are folded."""
    page.heading(4, "What has to follow")
    brought, before = duty_words.parted(review.duties)
    for owner, duties in duty_words.by_owner(brought).items():
        for duty in duties:
            page.line(f"- **{page.text(f'{owner}: {duty.duty}')}**; {page.text(duty.touches)}")
            page.items(filter(None, (duty_words.told(duty), duty_words.why(duty, review))), 1)
    if brought:
        page.line()
    nothing = "" if review.duties else duty_words.nothing(review, evidence=evidence)
    sentence = f"{nothing[:1].upper()}{nothing[1:]}." if nothing else ""
    for words in (sentence, before, *duty_words.quiet(review)):
        if words:
            page.paragraph(words)
    if review.duties:
        _folded(page, "How far, and by which rules", lambda: _how_far(page, review))


def _how_far(page: Page, review: Review) -> None:
    for duty in review.duties:
        page.items([f"{duty.touches}, by {'; '.join(duty_words.sources(duty))}"])
        page.items(duty.lines[:LONG], 1)
        if len(duty.lines) > LONG:
            page.items([f"and {len(duty.lines) - LONG} more"], 1)
        names = duty_words.causes(duty, review)
        if len(names) > duty_words.NAMED:
            page.items([f"because {name}" for name in names[:LONG]], 1)
            if len(names) > LONG:
                page.items([f"and {len(names) - LONG} more"], 1)
    if duty_words.ruler(review):
        page.line()
        page.line(page.text(duty_words.ruler(review)))
