"""An ingredient's substances add up to 100."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.rule import Rule


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
            total = sum(ingredient.substances.values(), Decimal(0))
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
        if classes and sum(classes) != 100:
            yield self.say_of(ingredient, _words("the classes in [cosmos]", sum(classes, Decimal(0))), ("cosmos",))


def _words(what: str, total: Decimal) -> str:
    difference = abs(total - 100).normalize()
    return f"{what} add up to {total} %, {difference:f} too {'much' if total > 100 else 'little'}"
