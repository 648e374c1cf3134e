"""What a product is, and where it is sold, is something that the packs know."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law.compliance import Compliance
from formula_vcs.law.packs_in_force import pack_names, product, product_names
from formula_vcs.model.finding import Finding
from formula_vcs.model.law_row import MARKETS
from formula_vcs.model.product import audience
from formula_vcs.rules.rule import FORMAT, Case, Rule
from formula_vcs.toml.takers import nearest


class ProductType(Rule):
    """A recipe with a market or a claim says which product it is, in a word that the product types know.

    Why: a limit hangs on where a product stays and on what: a toothpaste is oral and does not get the limit of what
    is rinsed off.  Without the type no limit can be judged, so its absence is a warning; a word that nobody knows
    blocks, since it would switch every limit off.  A header that says something else than its type (`for = "adults"`
    of a baby cream, `spray = "none"` of a hair spray) is a warning, and both are judged.

    So:
        product = "hand cream"
    """

    id = "product-type"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Look the product type up."""
        if case.recipe.is_premix:
            return
        found = case.compliance
        if found.product is not None:
            yield from self._against(case, found)
            return
        if not (found.law.packs or found.house or case.recipe.claims):
            return
        if case.recipe.product is None:
            words = "the recipe does not say which 'product' it is, so no limit, label or claim can be judged"
            yield self.say(case, words, ("product",), subject="none", severity="warn")
            return
        known = product_names()
        hint = nearest(case.recipe.product, known) or f"; known: {', '.join(sorted(known))}"
        words = f"'{case.recipe.product}' is no product type{hint}"
        yield self.say(case, words, ("product",), subject="unknown", on_value=True)

    def _against(self, case: Case, found: Compliance) -> Iterator[Finding]:
        """Say what the header states against the type, or against what is in the product; the stricter one counts."""
        recipe = case.recipe
        typed = product(recipe.product)
        young = sorted(age for age in typed.age if age.startswith("under-")) if typed is not None else []
        whom = audience(recipe.get("for") or "")
        if typed is not None and young and whom is not None and not whom.ages & typed.age:
            words = f"'for' says '{recipe.get('for')}', and a '{recipe.product}' is for children; judged as both"
            yield self.say(case, words, ("for",), subject="for", severity="warn", on_value=True)
        if typed is not None and "spray" in typed.form and recipe.get("spray") == "none":
            words = f"'spray' says 'none', and a '{recipe.product}' is a spray; judged as one"
            yield self.say(case, words, ("spray",), subject="spray", severity="warn", on_value=True)
        if recipe.get("hydroalcoholic", bool) and not found.alcoholic:
            words = "'hydroalcoholic' is true, and no alcohol is among what is stated to be in the product"
            yield self.say(case, words, ("hydroalcoholic",), subject="alcohol", severity="warn", on_value=True)


class MarketKnown(Rule):
    """The markets and the packs that are named are ones that there are facts for.

    Why: a market without a pack is not judged at all, and silence would read as a pass.
    """

    id = "market"
    severity = "warn"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every market and every pack without facts."""
        if case.recipe.is_premix:
            return
        found = case.compliance
        for market in found.markets:
            if market not in MARKETS:
                known = ", ".join(MARKETS)
                words = f"market '{market}': there are no facts for it here, so nothing is judged; known: {known}"
                yield self.say(case, words, ("markets",), subject=market)
        for name in case.formula.workspace.names["packs"]:
            if name not in pack_names():
                hint = nearest(name, pack_names()) or f"; known: {', '.join(pack_names())}"
                words = f"the workspace names pack '{name}', and there is none{hint}"
                yield self.say(case, words, ("markets",), subject=f"pack/{name}")
