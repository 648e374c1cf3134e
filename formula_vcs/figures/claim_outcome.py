"""What became of a claim that a recipe states."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from formula_vcs.figures.interval import Interval
from formula_vcs.model.values import dataclass, field

Verdict = Literal["holds", "fails", "needs information"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A number in % that a claim holds against a limit: at least that, or at most."""

    what: str
    value: Interval
    limit: Fraction
    least: bool


@dataclass(frozen=True, slots=True)
class ClaimOutcome:
    """The verdict on one claim, and why; ``missing`` names the facts that it waits for, ``marks`` its numbers."""

    claim: str
    verdict: Verdict
    because: str
    missing: tuple[str, ...] = ()
    marks: tuple[Mark, ...] = field(default=(), compare=False, repr=False)
