"""Some of the changes between two formulas made, the others not: each such formula is worked out once for all who ask.

Effects, causes, cures and the order of the label are all found by trying.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from itertools import combinations
from math import comb
from typing import Final

from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import Change
from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.model.formula import Formula
from formula_vcs.rules.judge import judge, judge_ingredient
from formula_vcs.rules.registry import OF_RECIPES, RULES

Chosen = frozenset[int]
# Sets that are tried one by one, to find a smaller one than taking away has found.
_MOST_TRIED: Final = 200
# What may be spent on looking for causes in one recipe, in facts of the formulas that are judged: some 3 seconds.
_WORK: Final = 150_000
_START: Final = 25  # what judging costs whatever the formula
# What these say hangs on what other rules have said.
_AFTER_ALL: Final = frozenset({"accept-expired", "accept-unused"})


class TooMuchError(Exception):
    """There are too many changes, or too much in the recipe, to try on."""


class Counterfactuals:
    """The formulas between an old one and a new one; ``changes`` are those that can be made, derived ones left out."""

    def __init__(self, old: Formula, changes: Sequence[Change], new: Formula | None = None) -> None:
        """Take both ends; without the new one it is worked out."""
        self.changes = [change for change in changes if not change.derived]
        self.everything: Chosen = frozenset(range(len(self.changes)))
        self._old = old
        self._formulas: dict[Chosen, Formula] = {frozenset(): old}
        if new is not None and self.changes:
            self._formulas[self.everything] = new
        self._judged: dict[tuple[Chosen, str, datetime.date], dict[str, int]] = {}  # worst severity by fingerprint
        self._work = _WORK

    @property
    def exhausted(self) -> bool:
        """Say whether all the work that may be done on one recipe is done."""
        return self._work < 0

    def formula(self, chosen: Chosen) -> Formula:
        """Give the old formula with some of the changes made."""
        if chosen not in self._formulas:
            self._formulas[chosen] = apply(self._old, [self.changes[i] for i in sorted(chosen)])
        return self._formulas[chosen]

    def sums(self, chosen: Chosen) -> Breakdown:
        """Give the sums of that formula."""
        return breakdown_of(self.formula(chosen))

    def raises(self, chosen: Chosen, finding: Finding, day: datetime.date) -> bool:
        """Say whether that formula has a finding, as bad as it is or worse.

        :raises TooMuchError: all the work that may be done on one recipe is done.
        """
        worst = self._findings(chosen, finding, day).get(finding.fingerprint)
        return worst is not None and worst <= SEVERITIES.index(finding.severity)

    def _findings(self, chosen: Chosen, finding: Finding, day: datetime.date) -> dict[str, int]:
        """Judge by the rule of a finding alone, where no other rule has a say in it."""
        rule = RULES.get(finding.rule)
        key = (chosen, "" if rule is None or finding.rule in _AFTER_ALL else finding.rule, day)
        self._work -= 1 + len(chosen) // 10
        if key not in self._judged:
            self._work -= _START + len(self._old.recipe.facts) + len(chosen)
            if self.exhausted:
                raise TooMuchError
            found: dict[str, int] = {}
            self._judged[key] = found
            for other in all_findings(self.formula(chosen), day, key[1]):
                rank = SEVERITIES.index(other.severity)
                found[other.fingerprint] = min(rank, found.get(other.fingerprint, rank))
        return self._judged[key]


def all_findings(formula: Formula, day: datetime.date, rule: str = "") -> list[Finding]:
    """Judge a recipe and every ingredient that it rests on, by all rules or by one."""
    rules = [RULES[rule]] if rule else OF_RECIPES
    found = judge(formula, day, None, [one for one in rules if one in OF_RECIPES])
    for ingredient in formula.ingredients.values():
        found.extend(judge_ingredient(ingredient, formula.workspace))
    return found


def smallest(count: int, holds: Callable[[Chosen], bool]) -> Chosen:
    """Give a smallest set, of the numbers below ``count``, for which something holds that holds for all of them.

    Whole halves are taken away first, then smaller pieces, as most have no part in it (delta debugging: Zeller and
    Hildebrandt, IEEE TSE 28 (2002) 183), until none can be done without; then smaller sets than that are tried.
    """
    needed = list(range(count))
    size = count
    while size:
        before = len(needed)
        for start in reversed(range(0, before, size)):
            without = needed[:start] + needed[start + size :]
            if holds(frozenset(without)):
                needed = without
        # one by one, until none of them can be done without
        size = size // 2 if size > 1 else int(len(needed) < before)
    for fewer in range(1, len(needed)):
        if comb(count, fewer) > _MOST_TRIED:
            break
        found = next((chosen for chosen in combinations(range(count), fewer) if holds(frozenset(chosen))), None)
        if found is not None:
            return frozenset(found)
    return frozenset(needed)
