"""Which changes bring a finding: found by taking changes away and judging again."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from formula_vcs.changes.apply import apply
from formula_vcs.changes.change import Change
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.rules.judge import judge, judge_ingredient


def causes(old: Formula, changes: Sequence[Change], finding: Finding, day: datetime.date) -> tuple[str, ...]:
    """Give a smallest set of changes that together bring a new finding: without any one of them it goes.

    Two changes that break only together are both named.
    """
    needed = [change for change in changes if not change.derived]
    for change in list(needed):
        without = [other for other in needed if other is not change]
        if raises(apply(old, without), finding, day):
            needed = without
    return tuple(change.id for change in needed)


def raises(formula: Formula, finding: Finding, day: datetime.date) -> bool:
    """Say whether a formula has a finding, as bad as it was or worse."""
    return any(
        other.fingerprint == finding.fingerprint and other.severity == finding.severity
        for other in all_findings(formula, day)
    )


def all_findings(formula: Formula, day: datetime.date) -> list[Finding]:
    """Judge a recipe and every ingredient that it rests on."""
    found = judge(formula, day)
    for ingredient in formula.ingredients.values():
        found.extend(judge_ingredient(ingredient))
    return found
