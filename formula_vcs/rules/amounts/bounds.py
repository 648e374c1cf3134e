"""A charge stays inside the bounds that the recipe itself states."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from formula_vcs.figures.composition import ChargeShare
from formula_vcs.model.finding import Finding
from formula_vcs.rules.amounts.balance_left import adjusting_reserve
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.numbers import exact_text


class Bounds(Rule):
    """A charge is not below its `at_least` nor above its `at_most`.

    Why: a floor under the balance is how a recipe says how much water its gum needs.  The balance is not written
    anywhere, so an edit of any other line can push it through that floor unseen.  The floor is judged with the
    charges kept for adjusting at their `at_most` too.

    So:
        water          = { pct = "to 100", at_least = 55.00 }
        citric-acid-50 = { pct = 0.20, for = "pH", at_most = 0.40 }
    """

    id = "bounds"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every charge with its own bounds."""
        for line in case.sums.composition.lines:
            if line.charge.amount is None or line.charge.amount.kind == "open":
                continue
            yield from self._of(case, line)

    def _of(self, case: Case, line: ChargeShare) -> Iterator[Finding]:
        least, most = (line.charge.more.get(name) for name in ("at_least", "at_most"))
        name = f"phase {line.charge.phase}, '{line.charge.ingredient}'"
        amount = exact_text(line.pct)
        if isinstance(most, Decimal) and line.pct > Fraction(most):
            words = f"{name}: {amount} % is more than the {most} % that the recipe allows it"
            yield self.say(case, words, (*line.charge.path, "at_most"))
        if not isinstance(least, Decimal):
            return
        if line.pct < Fraction(least):
            words = f"{name}: {amount} % is less than the {least} % that the recipe asks of it"
            yield self.say(case, words, (*line.charge.path, "at_least"))
        elif line.charge.balance and line.pct - adjusting_reserve(case) < Fraction(least):
            worst = exact_text(line.pct - adjusting_reserve(case))
            words = (
                f"{name}: {worst} % is left of it with every adjustment at its 'at_most', "
                f"less than the {least} % that the recipe asks of it"
            )
            yield self.say(case, words, (*line.charge.path, "at_least"))
