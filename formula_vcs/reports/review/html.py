"""A review as a page for a browser: the answer first, then every recipe with words and pictures."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports import review_document
from formula_vcs.reports.page import duties, frame, section, whole
from formula_vcs.reports.page.budget import written
from formula_vcs.review.change_names import names_of
from formula_vcs.review.compare import Comparison, Review


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the page, the recipes that block first."""
    reviews = whole.worst_first(review_document.alike(comparison)[0])
    top = whole.verdict(comparison, reviews, blocked=blocked, evidence=evidence) if reviews or comparison.guard else ""

    names = names_of(comparison)
    names = names if len(set(names.values())) > 1 else {}

    numbers = {id(review): number for number, review in enumerate(reviews, 1)}

    def words(review: Review, pictures: bool) -> str:
        # what a reader has to act on stands before what is drawn
        return (
            section.breaks(review, numbers[id(review)])
            + section.changed(review, names)
            + duties.follows(review, evidence=evidence)
            + section.does(review, pictures=pictures)
        )

    sections = written(
        reviews, lambda n, review: section.heading(review, n, whole.said(review), whole.css(review)), words
    )
    content = f"{top}{whole.contents(reviews)}\n{sections}{whole.closing(comparison, names)}"
    out.write(frame.page("Recipe review", title, content, made=comparison.made))
