"""Formulas with some changes made: the smallest set that brings a finding, and which changes may bear on a figure.

Effects, causes, cures and the order of the label are all found by trying.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Sequence
from itertools import combinations
from math import comb
from typing import Final

from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import Change, Drop, Edit, PlaceStep, Put
from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.model.formula import Formula

# --- Some of the changes between two formulas made, the others not: each such formula is worked out once for all who
# ask


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
        from formula_vcs.rules.registry import RULES

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
    # whoever only asks for figures with some changes made has no use for all the rules
    from formula_vcs.rules.judge import judge, judge_ingredient
    from formula_vcs.rules.registry import OF_RECIPES, RULES

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


# --- Which changes bring a finding, and which cure one: found by making some of them and judging again


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


# --- Which changes a figure, or the ingredient list, may hang on: the others have no part in it and need not be
# tried


# what neither reads of a recipe, a premix and the workspace, by the first name of a fact's path
_UNREAD: Final = frozenset({"title", "step", "accept", "claims", "claim", "markets", "tolerance"})
_OF_FIGURES: Final = frozenset({*_UNREAD, "rules"})
_OF_LABEL: Final = frozenset(
    {*_UNREAD, "spec", "pack", "packaging", "yield", "batch", "currency", "rate"}
)  # a rule of the house may name allergens
_OF_INGREDIENT: Final = frozenset({"title", "supplier", "code", "handling"})
_INGREDIENT_OF_FIGURES: Final = frozenset({*_OF_INGREDIENT, "allergens"})
_INGREDIENT_OF_LABEL: Final = frozenset({*_OF_INGREDIENT, "price", "origin", "cosmos", "nop", "certificate"})


def bears_on_figure(change: Change, name: str) -> bool:
    """Say whether a figure may hang on a change."""
    packed = any(edit.owner.startswith("packaging:") for edit in change.edits)
    if change.kind == "price" or packed:
        return name.startswith("cost_")
    return any(_is_read(edit, _OF_FIGURES, _INGREDIENT_OF_FIGURES) and not _is_source(edit) for edit in change.edits)


def bears_on_label(change: Change) -> bool:
    """Say whether the ingredient list may hang on a change."""
    return any(_is_read(edit, _OF_LABEL, _INGREDIENT_OF_LABEL) for edit in change.edits)


def _is_read(edit: Edit, unread: Collection[str], of_ingredient: Collection[str]) -> bool:
    kind = edit.owner.partition(":")[0]
    if kind in ("equipment", "packaging") or isinstance(edit, PlaceStep | Drop):
        return False
    if not isinstance(edit, Put):
        return True
    return edit.path[0] not in (of_ingredient if kind == "ingredient" else unread)


def _is_source(edit: Edit) -> bool:
    return isinstance(edit, Put) and edit.path == ("origin", "source")
