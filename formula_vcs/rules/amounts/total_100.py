"""Charges that add up: the total, the balance and what it is left with, amounts that are open or out of their
bounds.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from formula_vcs.figures.composition import ChargeShare
from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import WEIGHT_IN_VOLUME, Recipe
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.numbers import exact_text

# --- The total is 100


class Total(Rule):
    """The amounts add up to 100, exactly.

    Why: every other number of a recipe - cost, origin, limits, the weigh sheet - rests on the total.  A recipe that
    adds up to 100.05 is another recipe than the one that was meant, and nobody can say which.  Amounts are exact
    decimals, so there is no tolerance and none is needed.

    Not so:
        water    = 95.00
        glycerin =  5.05

    So:
        water    = "to 100"
        glycerin =  5.05

    A recipe from a book (amounts = "parts" or "mass") may state the total that the book claims.  Where the lines
    do not add up to it, the difference is said; total = "about 1000 g" makes that a note.
    """

    id = "total"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the sum with 100, or with the book's total."""
        composition = case.sums.composition
        recipe = case.recipe
        if not recipe.charges:
            yield self.say(case, "the recipe has no charges", ("phase",), subject="empty")
            return
        if composition.is_open:
            return
        if recipe.amounts == "percent":
            if not composition.balances and composition.total != 100:
                difference = composition.total - 100
                words = (
                    f"the charges add up to {exact_text(composition.total)} %, "
                    f"{exact_text(abs(difference))} too {'much' if difference > 0 else 'little'}"
                )
                yield self.say(case, words, recipe.charges[-1].path, subject="total", on_value=True)
            return
        if recipe.amounts == WEIGHT_IN_VOLUME and not composition.balances:
            words = 'the amounts are % w/v, and nothing fills up to 100 mL: write the water, say, as "to 100 mL"'
            yield self.say(case, words, recipe.charges[-1].path, subject="total")
            return
        yield from self._book(case, composition.total)

    def _book(self, case: Case, real: Fraction) -> Iterator[Finding]:
        claimed = case.recipe.total
        if real == 0:
            yield self.say(case, "the charges add up to nothing", case.recipe.charges[-1].path, subject="total")
        if claimed is None or real == 0:
            return
        value = claimed.quantity.base if claimed.quantity is not None else Fraction(claimed.value)
        by_mass = case.recipe.amounts == "mass"
        if by_mass != (claimed.quantity is not None):
            words = f"'total' is {claimed}, but the amounts are {'masses' if by_mass else 'parts'}"
            yield self.say(case, words, ("total",), subject="measure", on_value=True)
            return
        if value != real:
            yield self.say(
                case,
                f"the lines add up to {_measured(case.recipe, real)}, the book says {claimed}: "
                f"{_measured(case.recipe, abs(real - value))} too {'much' if real > value else 'little'}; "
                "percentages are taken on the real sum",
                ("total",),
                subject="book",
                severity="note" if claimed.about else "block",
                on_value=True,
            )


def _measured(recipe: Recipe, value: Fraction) -> str:
    if recipe.amounts == WEIGHT_IN_VOLUME:
        return f"{exact_text(value)} g in 100 mL"
    return (
        f"{exact_text(value * 1000)} g"
        if recipe.amounts == "mass"
        else f"{exact_text(value)} {'part' if value == 1 else 'parts'}"
    )


# --- Exactly one balance, or none


class Balance(Rule):
    """At most one charge is the balance ("to 100").

    Why: the balance takes what is left.  Two of them have no amounts that anybody could know.

    Not so:
        water   = "to 100"
        hydrosol = "to 100"

    So:
        water    = "to 100"
        hydrosol = 20.00
    """

    id = "balance"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every balance after the first."""
        first, *others = case.sums.composition.balances or (None,)
        for charge in others:
            assert first is not None  # noqa: S101 - there are others only after a first
            words = (
                f"phase {charge.phase}, '{charge.ingredient}': a second balance; "
                f"phase {first.phase}, '{first.ingredient}' fills up to {first.amount} already"
            )
            yield self.say(case, words.replace("up to to ", "up to "), charge.path, on_value=True)


# --- Something is left for the balance


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
    """What charges kept for adjusting may take beyond their nominal amounts, in % (0 in parts and masses)."""
    if case.recipe.amounts != "percent":
        return Fraction(0)
    reserve = Fraction(0)
    for line in case.sums.composition.lines:
        most = line.charge.more.get("at_most")
        if "for" in line.charge.more and most is not None and not hasattr(most, "raw"):
            reserve += max(Fraction(most) - line.pct, Fraction(0))
    return reserve


# --- No amount is left open


class OpenAmount(Rule):
    """An amount is settled.

    Why: "q.s." without a number, and a volume of a material that states no density, are read, and everything else
    of the recipe is computed; but no batch can be weighed from it.  A warning, not a block, since formulas from
    books come like this.  What fills up to a volume, "to 1000 mL" or in % w/v, blocks without the density of the
    product, in the header or as one value of the spec: then nothing of the recipe is known in % w/w.
    """

    id = "open-amount"
    severity = "warn"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every amount that cannot be known."""
        composition = case.sums.composition
        if composition.why_open:
            balance = composition.balances[0]
            words = (
                f"phase {balance.phase}, '{balance.ingredient}': '{balance.amount}' fills up to a volume, and no % w/w "
                'follows without the density of the product: state it, density = "1.02 g/mL"; it is not taken for 1'
            )
            yield self.say(case, words, balance.path, severity="block", on_value=True)
            return
        for charge in composition.unknown:
            if charge.amount is None:
                continue
            name = f"phase {charge.phase}, '{charge.ingredient}'"
            if charge.amount.kind == "open":
                words = f"{name}: '{charge.amount.text}' leaves the amount open; no batch can be made from this"
            else:
                words = (
                    f"{name}: {charge.amount.text} is a volume, and the ingredient states no density "
                    "to take it as a mass"
                )
            yield self.say(case, words, charge.path, on_value=True)


# --- A charge stays inside the bounds that the recipe itself states


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
