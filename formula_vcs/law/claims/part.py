"""One condition of a claim, and how conditions make a verdict."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from formula_vcs.figures.interval import Interval
from formula_vcs.figures.standards import ClaimOutcome, Mark
from formula_vcs.law.limit_use import percent
from formula_vcs.model.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class ClaimCondition:
    """A condition: met (True), not met (False), or open (None) for want of the ``missing`` facts; with its number."""

    met: bool | None
    words: str
    missing: tuple[str, ...] = ()
    mark: Mark | None = None


def at_least(what: str, value: Interval, limit: Fraction, because: str = "") -> ClaimCondition:
    """Ask a number to reach a limit; missing data decide nothing where they cannot."""
    asked = f"(at least {percent(limit)}{because})"
    mark = Mark(what, value, limit, least=True)
    if value.low >= limit:
        return ClaimCondition(True, f"{what} is {_bound(value, value.low, limit)} {asked}", mark=mark)
    if value.high < limit:
        return ClaimCondition(False, f"{what} is {_bound(value, value.high, limit)} {asked}", mark=mark)
    return ClaimCondition(None, f"{what} is not known {asked}", value.missing, mark)


def at_most(what: str, value: Interval, limit: Fraction) -> ClaimCondition:
    """Ask a number not to exceed a limit; missing data decide nothing where they cannot."""
    asked = f"(at most {percent(limit)})"
    mark = Mark(what, value, limit, least=False)
    if value.high <= limit:
        return ClaimCondition(True, f"{what} is {_bound(value, value.high, limit)} {asked}", mark=mark)
    if value.low > limit:
        return ClaimCondition(False, f"{what} is {_bound(value, value.low, limit)} {asked}", mark=mark)
    return ClaimCondition(None, f"{what} is not known {asked}", value.missing, mark)


def _bound(value: Interval, bound: Fraction, limit: Fraction) -> str:
    """Write a number, or the end of what it can be, with the word for it."""
    hedge = "" if value.value is not None else "at least " if bound == value.low else "at most "
    return f"{hedge}{percent(bound, limit)}"


def verdict(claim: str, parts: Iterable[ClaimCondition]) -> ClaimOutcome:
    """Judge a claim: one condition that is not met fails it, whatever else is open; gates come first in the words."""
    known = list(parts)
    marks = tuple(part.mark for part in known if part.mark is not None)
    return replace(_judged(claim, known), marks=marks)


def _judged(claim: str, known: list[ClaimCondition]) -> ClaimOutcome:
    failed = [part for part in known if part.met is False]
    if failed:
        return ClaimOutcome(claim, "fails", "; ".join(part.words for part in failed))
    waiting = [part for part in known if part.met is None]
    if waiting:
        missing = tuple(dict.fromkeys(fact for part in waiting for fact in part.missing))
        return ClaimOutcome(claim, "needs information", "; ".join(part.words for part in waiting), missing)
    return ClaimOutcome(claim, "holds", "; ".join(part.words for part in known if part.words))
