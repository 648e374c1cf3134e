"""No amount is left open."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Case, Rule


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
