"""Something is left for the balance."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.numbers import exact_text


class BalanceLeft(Rule):
    """The balance does not vanish, nor fall below nothing.

    Why: where the other charges come to 100 or more, the "to 100" line says that something is in the product which
    cannot be there.  The balance is judged once more with every charge kept for adjusting at its `at_most`, since
    that is how a real batch may turn out.

    Not so:
        water    = "to 100"
        oil      = 60.00
        wax      = 40.00
    """

    id = "balance-left"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare what is left with nothing."""
        composition = case.sums.composition
        left = composition.residue
        if left is None:
            return
        balance = composition.balances[0]
        name = f"phase {balance.phase}, '{balance.ingredient}'"
        if left <= 0:
            unit = composition.measure
            what = "nothing is left for the balance" if left == 0 else f"the balance would be {exact_text(left)} {unit}"
            words = f"{name}: {what}, the other charges come to {exact_text(composition.fixed)} {unit}"
            yield self.say(case, words, balance.path, subject="balance", on_value=True)
            return
        at_worst = left - adjusting_reserve(case)
        if at_worst <= 0:
            words = f"{name}: with every adjustment at its 'at_most' nothing is left ({exact_text(at_worst)} %)"
            yield self.say(case, words, balance.path, subject="balance-adjusted", on_value=True)


def adjusting_reserve(case: Case) -> Fraction:
    """Give what charges kept for adjusting may take beyond their nominal amounts, in % (0 in parts and masses)."""
    if case.recipe.amounts != "percent":
        return Fraction(0)
    reserve = Fraction(0)
    for line in case.sums.composition.lines:
        most = line.charge.more.get("at_most")
        if "for" in line.charge.more and most is not None and not hasattr(most, "raw"):
            reserve += max(Fraction(most) - line.pct, Fraction(0))
    return reserve
