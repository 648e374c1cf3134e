"""The sheets of many recipes within a size that a browser opens: what is left out says so."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from formula_vcs.reports.page import parts, section
from formula_vcs.review.compare import Review

# Above these sizes, in bytes, recipes are written without pictures, and then with their verdict alone.
PICTURES_UP_TO: Final = 2_500_000
WORDS_UP_TO: Final = 4_000_000
_NO_WORDS: Final = "Details are left out here to keep the page small; ask for this recipe by its name."


def written(
    reviews: Sequence[Review], heading: Callable[[int, Review], str], words: Callable[[Review, bool], str]
) -> str:
    """Write a sheet for every recipe: its heading always, its ``words`` (with pictures, or without) as long as fit."""
    found: list[str] = []
    size = 0
    for number, review in enumerate(reviews, 1):
        html = heading(number, review)
        html += words(review, size < PICTURES_UP_TO) if size < WORDS_UP_TO else parts.paragraph(_NO_WORDS, "muted")
        found.append(section.sheet(number, html))
        size += len(found[-1].encode())
    return "".join(found)
