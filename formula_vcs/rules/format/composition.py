"""An ingredient's substances add up to 100."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction

from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.part_span import PartSpan
from formula_vcs.rules.rule import Rule
from formula_vcs.words.numbers import exact_text


class CompositionAddsUp(Rule):
    """The substances of an ingredient add up to 100 % of it.

    Why: label order, water content and every limit are worked out from the substances; what is missing from the
    composition is missing from the product.  Of a range the middle counts, and the worse end for a limit; middles that
    do not make 100 are not stretched: one substance then fills up.

    Not so:
        [substances]
        "Cocamidopropyl Betaine" = 30           # and the water that it comes in?

    So:
        [substances]
        "Aqua"                   = 64.5
        "Cocamidopropyl Betaine" = 30
        "Sodium Chloride"        = 5.5

    Or, as a supplier prints it:
        [substances]
        "Aqua"                   = "to 100"
        "Cocamidopropyl Betaine" = "28 to 32"
        "Sodium Chloride"        = "at most 6"
    """

    id = "composition"
    judges = "ingredient"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Add the substances up, and the COSMOS classes where they are stated."""
        if ingredient.substances:
            words = _composed(ingredient)
            if words:
                yield self.say_of(ingredient, words, ("substances",))
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


def _composed(ingredient: Ingredient) -> str:
    """Say why the substances do not make up the material; nothing where they do."""
    parts, held = ingredient.stated("substances"), ingredient.held
    spans = {name: part for name, part in parts.items() if isinstance(part, PartSpan)}
    filling = next((name for name, part in spans.items() if part.fills), None)
    total = sum((one.middle for name, one in held.items() if name != filling), Fraction(0))
    if not spans or (filling is None and total == 100) or (filling is not None and total < 100):
        return _words("the substances", total) if not spans and total != 100 else ""
    ranges = len(spans) > (filling is not None)
    of_ranges = "the substances, their ranges at the middle," if ranges else "the substances"
    if filling is not None:
        return f"{of_ranges} add up to {exact_text(total)} % and leave nothing for '{filling}', which fills up to 100"
    least, most = (sum((one[end] for one in held.values()), Fraction(0)) for end in (0, 2))
    if not least <= 100 <= most:
        return f"the substances add up to {exact_text(least)} to {exact_text(most)} %, whatever lies in their ranges"
    return f'{_words(of_ranges, total)}; let one, the water say, fill up: "to 100"'


def _sum(values: Iterable[Decimal]) -> Fraction:
    """Add up exactly: a sum of decimals is rounded to 28 digits."""
    return sum(map(Fraction, values), Fraction(0))


def _words(what: str, total: Fraction) -> str:
    difference = exact_text(abs(total - 100))
    return f"{what} add up to {exact_text(total)} %, {difference} too {'much' if total > 100 else 'little'}"
