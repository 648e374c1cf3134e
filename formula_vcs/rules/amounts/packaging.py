"""The packaging that a recipe names fits its pack, and every piece of it can be priced."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.figures.pack_cost import packaging_of
from formula_vcs.model.finding import Finding
from formula_vcs.rules.amounts.price_currency import other_currency
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


class PackagingFits(Rule):
    """The packaging that a recipe names is made for the content of its pack, and its pieces can be priced.

    Why: the cost of a pack is its content and its pieces together. A tube for 50 mL under a recipe whose pack is 75 mL
    gives a cost that nobody pays, and a label that is wrong; a piece without a price leaves the cost not known.

    So:
        pack      = "75 mL"
        packaging = "tube-75-ml"          # packaging/tube-75-ml.toml: holds = "75 mL"
    """

    id = "packaging"
    severity = "warn"
    source = COMMON_PRACTICE

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare both contents, and look at the price of every piece."""
        pack, recipe = packaging_of(case.formula), case.recipe
        if recipe.packaging is not None and recipe.pack is None and ("pack",) not in recipe.facts:
            words = f"it is filled into '{recipe.packaging}', and states no 'pack': how much goes in?"
            yield self.say(case, words, ("packaging",), subject="pack")
        if pack is None:
            return
        if pack.holds is not None and recipe.pack is not None and pack.holds != recipe.pack:
            words = f"pack {recipe.pack} is filled into '{pack.id}', which is made for {pack.holds}"
            yield self.say(case, words, ("packaging",), subject="holds", on_value=True)
        for item in pack.items:
            called = f"'{pack.id}', {item.id}"
            if ("price",) not in item.facts:
                yield self.say(case, f"{called}: no price is stated", ("packaging",), subject=item.id, severity="note")
            priced = (other_currency(price.cost, case.formula.workspace) for price in item.prices)
            for words in dict.fromkeys(filter(None, priced)):
                yield self.say(case, f"{called} {words}", ("packaging",), subject=f"{item.id}/currency")
