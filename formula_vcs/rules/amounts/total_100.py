"""The total is 100."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import WEIGHT_IN_VOLUME, Recipe
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.numbers import exact_text


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
