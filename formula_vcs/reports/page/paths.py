"""The charges that ask something of the process, with the steps that they are there for and those that hurt them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.model.finding import Finding
from formula_vcs.model.values import dataclass
from formula_vcs.review.compare import Review, ReviewSides
from formula_vcs.rules.handling import demands

# what is asked for, and how it is said
_ASKED: Final = {
    "shear_at_most": "{} shear at most",
    "shear_at_least": "needs {} shear",
    "temp_at_most": "at most {}",
    "temp_at_least": "needs {}",
    "add_below": "added below {}",
}
_RULES: Final = frozenset(name.replace("_", "-") for name in _ASKED)
LETTERS: Final = "abcde"


@dataclass(frozen=True, slots=True)
class Path:
    """A charge on its way: what it ``asks`` for, the ``steps`` (ids) that it is there for, the ones that break it.

    ``broken`` says that something it asks for is not kept, whatever the step; ``moved`` that its exposure changed.
    """

    charge: str
    title: str
    asks: tuple[str, ...]
    steps: tuple[str, ...]
    hurt: frozenset[str]
    broken: bool
    moved: bool


def paths(review: Review, sides: ReviewSides) -> list[Path]:
    """Give the paths through the new process: broken ones first, then those that changed."""
    asked: dict[str, dict[str, None]] = {}
    for name, words in _ASKED.items():
        for demand in demands(sides.present).get(name, ()):
            asked.setdefault(demand.charge.key, {})[words.format(demand.value) + demand.inside] = None
    broken = _broken(review)
    changed = {change.where.replace("/charge/", "/") for change in review.changes if change.kind == "exposure"}
    walk = breakdown_of(sides.present).walk
    found = []
    for charge in sides.present.recipe.charges:
        if charge.key in asked:
            steps = tuple(exposure.step.id for exposure in walk.exposures.get(charge.key, ()))
            hurt = frozenset(step for step in steps if _hurts(broken, charge.key, step))
            bad = bool(hurt) or any(finding.subject.startswith(f"{charge.key}/") for finding in broken)
            found.append(
                Path(
                    charge.key, sides.present.title(charge.ingredient), tuple(asked[charge.key]), steps, hurt,
                    broken=bad, moved=f"phase/{charge.key}" in changed,
                )
            )  # fmt: skip
    return sorted(found, key=lambda path: (not path.broken, not path.moved))


def _broken(review: Review) -> list[Finding]:
    return [finding for finding in _now(review) if finding.rule in _RULES and finding.severity != "note"]


def _now(review: Review) -> Iterator[Finding]:
    yield from (item.finding for item in review.new)
    yield from review.still


def _hurts(findings: Iterable[Finding], charge: str, step: str) -> bool:
    """Say whether a finding is about a charge in a step: a subject is the charge, the material and the step."""
    return any(f.subject.startswith(f"{charge}/") and f.subject.endswith(f"/{step}") for f in findings)
