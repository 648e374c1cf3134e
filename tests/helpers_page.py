"""Reviews of the demo with edits, for tests of the pages that show them."""

from __future__ import annotations

from collections.abc import Mapping

from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Comparison, Review, ReviewSides, compare
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.helpers_demo import DAY, Edit, texts

SWAP: Edit = ("face-polish.toml", "silica-thickening = 4.50", "silica-polishing  = 4.50")
MORE_PRESERVATIVE: Edit = ("face-polish.toml", "benzyl-alcohol-dha  = 0.80", "benzyl-alcohol-dha  = 1.20")


def compared(*edits: Edit, more: Mapping[str, str] | None = None, only: str = "") -> Comparison:
    """Compare the demo with the demo after edits."""
    sides = Snapshot(Files(texts(), "old")), Snapshot(Files(texts(*edits, more=more), "new"))
    return compare(*sides, Terms(DAY), (only,) if only else ())


def review(recipe: str, *edits: Edit, more: Mapping[str, str] | None = None) -> Review:
    """Review one recipe of the demo after edits."""
    return next(one for one in compared(*edits, more=more, only=recipe).reviews if one.recipe == recipe)


def sides(recipe: str, *edits: Edit, more: Mapping[str, str] | None = None) -> ReviewSides:
    """Give both sides of such a review."""
    found = review(recipe, *edits, more=more).sides
    assert found is not None
    return found
