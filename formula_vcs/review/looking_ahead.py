"""What a change brings in, or makes more of, that the law will not allow on a day to come.

`rules/horizon.py` says what a recipe will break, and when; here two versions are held against each other.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.law.compliance import Compliance, compliance_of
from formula_vcs.law.limit_use import percent
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass
from formula_vcs.rules.horizon import Turn, horizon, later

MONTHS: Final = 24
_QUESTIONS: Final = frozenset({"unstated"})  # no deadline: it asks today already what it can
Causes = Callable[[Finding, datetime.date], tuple[str, ...] | None]


@dataclass(frozen=True, slots=True)
class Deadline:
    """A finding that a recipe will have from ``day`` on, when placed on the market; on sale it may stay until ``sold``.

    ``raised`` says of one that was coming before how much more there is now; it is empty where the change brings it
    in.  ``causes`` are the ids of the changes that bring it, None where more would have to be tried.
    """

    day: datetime.date
    sold: datetime.date | None
    finding: Finding
    raised: str = ""
    causes: tuple[str, ...] | None = ()


def deadlines(past: Formula, present: Formula, day: datetime.date, causes: Causes) -> tuple[Deadline, ...]:
    """Give what a change brings in or raises that stops complying within 24 months, the earliest first."""
    if present.recipe.is_premix or not present.recipe.facts:
        return ()
    until = later(day, MONTHS)
    turns = [turn for turn in horizon(present, day, until) if turn.finding.rule not in _QUESTIONS]
    if not turns:
        return ()
    before = {_key(turn) for turn in horizon(past, day, until)} if past.recipe.facts else set()
    sides = [compliance_of(breakdown_of(formula)) for formula in (past, present)]
    found = []
    for turn in turns:
        raised = _raised(turn.finding, *sides) if _key(turn) in before else ""
        if _key(turn) not in before or raised:
            why = () if raised else causes(turn.finding, turn.day)
            found.append(Deadline(turn.day, turn.sold, turn.finding, raised, why))
    return tuple(found)


def _key(turn: Turn) -> tuple[datetime.date, str, str]:
    return turn.day, turn.finding.fingerprint, turn.finding.severity


def _raised(finding: Finding, past: Compliance, present: Compliance) -> str:
    """Say how much more there is of what a finding is about; nothing where there is no more."""
    keys = finding.subject.split("/")[1:]
    was, now = (_held(side, keys) for side in (past, present))
    if now <= was:
        return ""
    names = " + ".join(present.spelled(key) for key in keys if key in present.totals)
    return f"{names}: {percent(was)} \u2192 {percent(now, was)}"


def _held(side: Compliance, keys: list[str]) -> Fraction:
    return sum((side.totals[key].pct for key in keys if key in side.totals), Fraction(0))
