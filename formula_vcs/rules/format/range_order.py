"""Ranges run from low to high."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Range
from formula_vcs.rules.rule import Case, Rule


class Ranges(Rule):
    """A range runs from its lower to its higher end.

    Not so:
        pH = "5.4 to 4.8"
    """

    id = "range-order"
    judges = "both"

    def check(self, case: Case) -> Iterator[Finding]:
        """Look at every range of the recipe."""
        for path, value in case.recipe.facts.items():
            if isinstance(value, Range) and not value.ordered():
                yield self.say(case, f"'{path[-1]}': {value} runs from high to low", path, on_value=True)

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Look at every range of the ingredient."""
        for path, value in ingredient.facts.items():
            if isinstance(value, Range) and not value.ordered():
                yield self.say_of(ingredient, f"'{path[-1]}': {value} runs from high to low", path, on_value=True)
