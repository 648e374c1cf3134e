"""Which changes bring a finding, and which cure one: found by making some of them and judging again."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence

from formula_vcs.diff.change import Change
from formula_vcs.diff.counterfactuals import Chosen, Counterfactuals, TooMuchError, all_findings, smallest
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula

__all__ = ["all_findings", "causes", "cures", "raises"]


def causes(
    old: Formula, changes: Sequence[Change], finding: Finding, day: datetime.date, trials: Counterfactuals | None = None
) -> tuple[str, ...]:
    """Give a smallest set of changes that together bring a new finding: without any one of them it goes.

    Two changes that break only together are both named.  ``trials`` keeps what was tried for other findings.

    :raises TooMuchError: all the work that may be done on one recipe is done.
    """
    tried = trials or Counterfactuals(old, changes)
    return _found(tried, lambda chosen: tried.raises(chosen, finding, day))


def cures(trials: Counterfactuals, finding: Finding, day: datetime.date) -> tuple[str, ...]:
    """Give a smallest set of changes that together cure a finding of the old version: without any one it is back.

    :raises TooMuchError: all the work that may be done on one recipe is done.
    """
    return _found(trials, lambda chosen: not trials.raises(chosen, finding, day))


def _found(trials: Counterfactuals, holds: Callable[[Chosen], bool]) -> tuple[str, ...]:
    if trials.exhausted:
        raise TooMuchError
    chosen = smallest(len(trials.changes), holds)
    return tuple(trials.changes[i].id for i in sorted(chosen))


def raises(formula: Formula, finding: Finding, day: datetime.date) -> bool:
    """Say whether a formula has a finding, as bad as it is or worse."""
    return Counterfactuals(formula, ()).raises(frozenset(), finding, day)
