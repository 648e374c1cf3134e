"""What changed and what it does, as markdown.  The review puts its other parts behind these."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, TextIO

from formula_vcs.reports import label_words, review_document, review_extras
from formula_vcs.reports.table_markdown import Page
from formula_vcs.review.compare import Comparison, Review
from formula_vcs.words.escape import markdown
from formula_vcs.words.imitation import headed

LONG: Final = 12  # shares that stand open; more are folded away


def write(comparison: Comparison, *, title: str, out: TextIO) -> None:
    """Write parts 1 and 2, and one line where something new blocks."""
    page = Page(out)
    page.heading(2, f"Recipe changes: {title}")
    for review in review_document.alike(comparison)[0]:
        heading(page, review)
        changed(page, review)
        does(page, review)
    closing(page, comparison)
    news = review_document.blocking_news(comparison)
    if news:
        page.line(f"**{review_document.counted(news, 'new finding')} {'blocks' if news == 1 else 'block'}.**")


def heading(page: Page, review: Review, verdict: str = "") -> None:
    """Name a recipe, and give the verdict on it: in the same line, but that something blocks stands out."""
    title = headed(review.title, review.recipe)
    blocked = verdict.startswith("blocked")
    page.heading(3, f"{title}: {verdict}" if verdict and not blocked else title)
    if blocked:
        page.line(f"**{markdown(verdict)}**")
        page.line()


def changed(page: Page, review: Review) -> None:
    """Write part 1."""
    page.heading(4, "What changed")
    words = review_document.whole(review)
    if words:
        page.paragraph(words)
        return
    rows(page, review_document.rows(review.changes, review.swaps))


def rows(page: Page, found: Iterable[review_document.ChangeRow]) -> None:
    """Write changes as a list, what follows from others in italics."""
    for row in found:
        text = page.text(row.text)
        page.line(f"- *follows:* {text}" if row.follows else f"- {markdown(row.sign)} {text}")
        page.items(row.more, 1)
    page.line()


def does(page: Page, review: Review, *, folded: bool = False) -> None:
    """Write part 2: a table, and how much each change brought, folded away where it is asked for or long."""
    if review.status != "changed":
        return
    moves = review_document.moves(review)
    page.heading(4, "What it does")
    if not moves.moved and not moves.less:
        page.paragraph("No figure moves.")
    if moves.moved:
        page.table(
            ("figure", "before", "after", "unit", "difference", "by"),
            ((item.name, item.before, item.after, item.unit, item.difference, item.by) for item in moves.moved),
            numbers=(1, 2, 4),
        )
    _shares(page, moves, folded=folded)
    if moves.less:
        page.paragraph(f"{review_document.folded(moves.less)}.")
    _substances(page, review)
    _label(page, review)
    if moves.missing:
        page.items(f"missing {fact}" for fact in moves.missing)
        page.line()


def _substances(page: Page, review: Review) -> None:
    found = review_document.substances(review)
    if found:
        page.table(
            ("substance", "before", "after", "difference", "of it", "why it is here"),
            ((item.name, item.before, item.after, item.difference, item.relative, item.why) for item in found),
            numbers=(1, 2, 3, 4),
        )


def _label(page: Page, review: Review) -> None:
    for name, words in review_extras.lists(review):
        page.paragraph(f"{name[:1].upper()}{name[1:]}:")
        page.items([words])
        page.line()
    if not review.label:
        return
    name = label_words.title(review)
    page.paragraph(f"{name[:1].upper()}{name[1:]}:")
    for words, why in label_words.lines(review):
        page.items([words])
        page.items(why, 1)
    page.line()


def _shares(page: Page, moves: review_document.Moves, *, folded: bool) -> None:
    found = [item for item in moves.moved if item.parts or item.notes]
    if not found:
        return
    long = folded or sum(len(item.parts) for item in found) > LONG
    if long:
        page.line("<details><summary>How much each change brought</summary>")
        page.line()
    for item in found:
        page.line(f"- {markdown(item.name)}{': ' if item.difference else ''}{item.difference}")
        page.items((f"{part.value} {part.text}".lstrip() for part in item.parts), 1)
        page.items(item.notes, 1)
    page.line()
    if long:
        page.line("</details>")
        page.line()


def closing(page: Page, comparison: Comparison) -> None:
    """Write what stands beside the recipes, and count what is not listed."""
    if comparison.beside:
        page.heading(3, "Beside the recipes")
        rows(page, review_document.beside(comparison.beside))
    for line in review_document.unchanged(comparison):
        page.paragraph(line)
    if comparison.made:
        page.paragraph(comparison.made)
