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

    Two changes that break only together are both named.  Whole halves are taken away first, then smaller pieces, as
    most changes have no part in a finding (delta debugging: Zeller and Hildebrandt, IEEE TSE 28 (2002) 183).
    """
    needed = [change for change in changes if not change.derived]
    size = len(needed)
    while size:
        before = len(needed)
        for start in reversed(range(0, before, size)):
            without = needed[:start] + needed[start + size :]
            if raises(apply(old, without), finding, day):
                needed = without
        # change by change, until none of them can be done without
        size = size // 2 if size > 1 else int(len(needed) < before)
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
