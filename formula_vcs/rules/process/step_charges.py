"""The steps use every charge exactly once."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from formula_vcs.model.facts import Unread
from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import Charge
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.numbers import shown


class StepCharges(Rule):
    """The steps use every charge exactly once, its shares together making the whole.

    Why: a charge that no step adds is weighed and left standing; one that two steps add is in the product twice.
    A phase brings all its charges except those that a step names itself or keeps for adjusting.

    So:
        add = ["A", { what = "B/water", share = "80 %" }]
        add = [{ what = "B/water", share = "20 %" }]
    """

    id = "step-charges"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare what the steps add with what there is."""
        if not case.recipe.steps:
            return
        for trouble in case.sums.walk.troubles:
            if trouble.rule == self.id:
                yield self.say(case, trouble.message, trouble.at, subject=trouble.subject)
        if any(isinstance(step.facts.get(name), Unread) for step in case.recipe.steps for name in ("add", "adjust")):
            return  # nobody knows what that step adds
        for charge in case.recipe.charges:
            yield from self._of(case, charge)

    def _of(self, case: Case, charge: Charge) -> Iterator[Finding]:
        share = case.sums.walk.shares.get(charge.key, Fraction(0))
        if share == 1:
            return
        name = f"phase {charge.phase}, '{charge.ingredient}'"
        steps = ", ".join(f"'{step.id}'" for step in case.sums.walk.places.get(charge.key, ()))
        if not share:
            words = f"{name}: no step adds it"
        elif share.denominator == 1:
            words = f"{name}: it is added {share} times, by {steps}"
        else:
            words = f"{name}: the steps add {shown(share * 100, 0)} % of it in all, not 100 % ({steps})"
        yield self.say(case, words, charge.path)
