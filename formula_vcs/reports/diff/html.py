"""What changed and what it does as a page for a browser: the review without its judgement."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports import review_document
from formula_vcs.reports.page import frame, parts, section, whole
from formula_vcs.reports.page.budget import written
from formula_vcs.review.compare import Comparison


def write(comparison: Comparison, *, title: str, out: TextIO) -> None:
    """Write parts 1 and 2 with their pictures, and one line where something new blocks."""
    reviews = review_document.alike(comparison)[0]
    news = review_document.blocking_news(comparison)
    top = ""
    if news:
        words = f"{review_document.counted(news, 'new finding')} {'blocks' if news == 1 else 'block'}."
        top = f'<div class="verdict bad">{parts.paragraph(words, "answer")}{whole.news(reviews)}</div>'

    sections = written(
        reviews,
        lambda number, review: section.heading(review, number, "", ""),
        lambda review, pictures: section.changed(review) + section.does(review, pictures=pictures),
    )
    names = whole.contents(reviews, verdicts=False)
    out.write(
        frame.page(
            "Recipe changes", title, f"{top}{names}\n{sections}{whole.closing(comparison)}", made=comparison.made
        )
    )
