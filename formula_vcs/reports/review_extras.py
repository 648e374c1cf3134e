"""What a review says besides its four parts: limits of the law that are accepted, days to come, lists of new markets.

Words only, nothing escaped yet; every format writes them in its own way.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from formula_vcs.law.labelling import printed
from formula_vcs.model.finding import Finding
from formula_vcs.model.values import replace
from formula_vcs.review.compare import Comparison, Review
from formula_vcs.review.looking_ahead import Deadline
from formula_vcs.review.loosenings import Loosening

_NAMED: Final = 5

LOOSENED = "Loosened here: what judges this change is milder or blinder than before"
ACCEPTED = "Accepted, though the law says otherwise"


def loosened(comparison: Comparison) -> list[tuple[Finding, Loosening]]:
    """Give what makes the judgement milder or blinder, each as a finding too."""
    return list(zip(comparison.guarded, comparison.guard, strict=True))


def loosened_words(finding: Finding, item: Loosening) -> str:
    """Say one thing that is loosened: the recipes that it is under, what it is, and what only passes because of it."""
    recipes = ", ".join(item.recipes[:_NAMED])
    more = f" and {len(item.recipes) - _NAMED} more" if len(item.recipes) > _NAMED else ""
    lead = f"{recipes}{more}: " if recipes else ""
    return f"{lead}{finding.message}"


def accepted(comparison: Comparison) -> list[Finding]:
    """Give the findings of a limit or a ban of the law that recipes of a comparison accept."""
    return [finding for review in comparison.reviews for finding in review.accepted]


def accepted_words(finding: Finding) -> str:
    """Say one accepted finding: the recipe, the rule, what it is about, and the reason at the end."""
    return f"{finding.recipe}: {finding.rule} '{finding.subject}': {finding.message}"


def when(deadline: Deadline) -> str:
    """Say from which day on something will not be placed on the market, and until when what is there may be sold."""
    placed = f"from {deadline.day} on, when placed on the market"
    return placed if deadline.sold is None else f"{placed}; on sale until {deadline.sold}"


def why(deadline: Deadline) -> list[str]:
    """Give the entry, where the finding's words do not, and how much more there is now of what was coming before."""
    source = deadline.finding.source
    entry = [f"entry: {source}"] if source and source not in deadline.finding.message else []
    return [*entry, f"raised: {deadline.raised}"] if deadline.raised else entry


def lists(review: Review) -> list[tuple[str, str]]:
    """Give the ingredient list for each market that is new: its title and the list as it would be printed."""
    return [
        (f"ingredient list ({market}), a market that is new", printed(lines) or "nothing to list")
        for market, lines in review.lists
    ]


def as_findings(reviews: Iterable[Review]) -> list[Finding]:
    """Give what comes and what is accepted as findings of their own, for formats that know nothing else."""
    found = []
    for review in reviews:
        found += [replace(one, subject=f"{one.subject}/accepted") for one in review.accepted]
        found += [
            replace(
                item.finding,
                severity="warn",
                message=f"{when(item)}: {item.finding.severity}: {item.finding.message}",
                subject=f"{item.finding.subject}/{item.day}",
            )
            for item in review.ahead
        ]
    return found
