"""An ingredient's substances add up to 100."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction

from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.rule import Rule
from formula_vcs.words.numbers import exact_text


class CompositionAddsUp(Rule):
    """The substances of an ingredient add up to 100 % of it.

    Why: label order, water content and every limit are worked out from the substances; what is missing from the
    composition is missing from the product.

    Not so:
        [substances]
        "Cocamidopropyl Betaine" = 30           # and the water that it comes in?

    So:
        [substances]
        "Aqua"                   = 64.5
        "Cocamidopropyl Betaine" = 30
        "Sodium Chloride"        = 5.5
    """

    id = "composition"
    judges = "ingredient"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Add the substances up, and the COSMOS classes where they are stated."""
        if ingredient.substances:
            total = _sum(ingredient.substances.values())
            if total != 100:
                yield self.say_of(ingredient, _words("the substances", total), ("substances",))
        classes = [
            value
            for path, value in ingredient.facts.items()
            if len(path) == 2
            and path[0] == "cosmos"
            and isinstance(value, Decimal)
            and not path[1].endswith("_organic")
        ]
        if classes and _sum(classes) != 100:
            yield self.say_of(ingredient, _words("the classes in [cosmos]", _sum(classes)), ("cosmos",))


def _sum(values: Iterable[Decimal]) -> Fraction:
    """Add up exactly: a sum of decimals is rounded to 28 digits."""
    return sum(map(Fraction, values), Fraction(0))


def _words(what: str, total: Fraction) -> str:
    difference = exact_text(abs(total - 100))
    return f"{what} add up to {exact_text(total)} %, {difference} too {'much' if total > 100 else 'little'}"
