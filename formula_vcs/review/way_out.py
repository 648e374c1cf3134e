"""What is left of a recipe's changes without those that block: tried, not guessed."""

from __future__ import annotations

from typing import NamedTuple

from formula_vcs.diff.change import Change
from formula_vcs.diff.counterfactuals import Counterfactuals, all_findings
from formula_vcs.model.finding import Finding
from formula_vcs.review.compare import Review


class WayOut(NamedTuple):
    """The changes that bring what blocks, and what blocks still without them; nothing left: the rest can be merged.

    ``rest`` says whether any other change is left then.
    """

    changes: tuple[Change, ...]
    left: tuple[Finding, ...]
    rest: bool


def way_out(review: Review) -> WayOut | None:
    """Leave out the changes that bring findings that block; None where those are not all known, or nothing blocks."""
    news = [item for item in review.new if item.finding.severity == "block"]
    if not news or review.sides is None or review.status != "changed":
        return None
    if any(not item.causes for item in news):
        return None
    blocking = {cause for item in news for cause in item.causes or ()}
    sides = review.sides
    trials = Counterfactuals(sides.past, review.changes, sides.present)
    kept = frozenset(number for number, change in enumerate(trials.changes) if change.id not in blocking)
    found = all_findings(trials.formula(kept), sides.terms.day)
    left = tuple(finding for finding in found if finding.severity == "block")
    changes = tuple(change for change in trials.changes if change.id in blocking)
    return WayOut(changes, left, bool(kept))
