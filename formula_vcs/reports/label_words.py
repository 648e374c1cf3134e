"""What moved in the ingredient list, in words: which name went where, and which changes did it."""

from __future__ import annotations

from typing import Final

from formula_vcs.diff.label_order import LabelMove
from formula_vcs.reports import figure_words, review_document
from formula_vcs.review.compare import Review
from formula_vcs.words.numbers import apportion

MOST: Final = 12  # names that are said one by one
PARTS: Final = {
    "active": "now an active ingredient of a drug",
    "ordered": "now above the line at 1 %",
    "free": "now below the line at 1 %",
    "colorant": "now a colorant",
}
_ENDINGS: Final = {1: "st", 2: "nd", 3: "rd"}


def ordinal(place: int) -> str:
    """Write a place: 1st, 2nd, 3rd, 4th, 11th."""
    ending = "th" if place % 100 in (11, 12, 13) else _ENDINGS.get(place % 10, "th")
    return f"{place}{ending}"


def title(review: Review) -> str:
    """Name the list; empty where nothing moved in it."""
    return f"ingredient list ({review.label[0].market})" if review.label else ""


def lines(review: Review) -> list[tuple[str, list[str]]]:
    """Give the names that moved, each with the changes that did it; those below the line at 1 % are only counted."""
    said = [move for move in review.label if not move.only_free]
    free = len(review.label) - len(said)
    found = [(_moved(move), _why(move, review)) for move in said[:MOST]]
    if len(said) > MOST:
        found.append((f"and {review_document.counted(len(said) - MOST, 'name')} more", []))
    if free:
        verb = "moves" if free == 1 else "move"
        found.append((f"{review_document.counted(free, 'name')} below 1 % {verb}, where any order will do", []))
    return found


def _moved(move: LabelMove) -> str:
    if move.before is None:
        return f"{move.name} comes in, {ordinal(move.after or 0)}"
    if move.after is None:
        return f"{move.name} goes, was {ordinal(move.before)}"
    line = f", {PARTS[move.part]}" if move.crossed else ""
    return f"{move.name}: {ordinal(move.before)} {review_document.ARROW} {ordinal(move.after)}{line}"


def _why(move: LabelMove, review: Review) -> list[str]:
    changes = {change.id: change for change in review.changes}
    found = [f"because {text}" for text in review_document.because(move.causes, review.changes)]
    if len(move.shares) > 1:
        places = apportion([share.value for share in move.shares], 2)
        parts = ", ".join(
            f"{figure_words.sign(place)} {review_document.brief(changes[share.change])}"
            for share, place in zip(move.shares, places, strict=True)
        )
        evened = f" ({review_document.EVENED[move.evened]})" if move.evened else ""
        found.append(f"places down the list: {parts}{evened}")
    return found
