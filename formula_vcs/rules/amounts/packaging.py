"""Packs and prices: a pack that holds what it is to hold, prices in one currency."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.figures.pack_cost import packaging_of
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.lot import Lot
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.workspace import Workspace
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, RecordCase, RecordRule, Rule

# --- The packaging that a recipe names fits its pack, and every piece of it can be priced


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


# --- Prices are in the currency of the workspace, or in one that it states a rate of


class PriceCurrency(RecordRule):
    """A price, of an ingredient or of a lot, is in the currency of workspace.toml, or in one with a [[rate]] there.

    Why: no rate is assumed here, as a rate is only right on its day.  A price in a currency without one leaves the
    cost of every recipe unknown that uses the material.  State the rate with its day; the cost then names both.

    Not so:
        cost = "21.00 USD/kg"         # workspace.toml says currency = "EUR", and no more

    So:
        [[rate]]                      # in workspace.toml
        of  = "USD"
        is  = "0.862 EUR"
        day = 2026-05-04
    """

    id = "price-currency"
    severity = "warn"
    judges = "lots"
    source = COMMON_PRACTICE

    def check_price(self, ingredient: Ingredient, workspace: Workspace) -> Iterator[Finding]:
        """Look at every price of an ingredient, those of other days too."""
        for price in ingredient.prices:
            words = other_currency(price.cost, workspace)
            if words:
                at = ("price", str(price.position), "cost")
                yield self.say_of(ingredient, f"'{ingredient.id}' {words}", at, on_value=True)

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Look at what was paid for a lot."""
        lot = Lot(case.record.id, case.record.facts, case.record.file)
        words = "" if lot.price is None else other_currency(lot.price, case.snapshot.workspace)
        if words:
            yield self.say_about(case, f"lot '{lot.id}' {words}", ("price",), on_value=True)


def other_currency(price: Quantity, workspace: Workspace) -> str:
    """Say that a price is in another currency than the workspace's; empty where it is not, or a rate is stated."""
    wanted = workspace.currency
    if wanted is None or price.currency in ("", wanted):
        return ""
    if any(rate.factor(price.currency, wanted) for rate in workspace.rates):
        return ""
    return f"is priced in {price.currency}, and workspace.toml has no [[rate]] for it (costs are in {wanted})"
