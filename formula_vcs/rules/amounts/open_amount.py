"""No amount is left open."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Case, Rule


class OpenAmount(Rule):
    """An amount is settled.

    Why: "q.s." without a number, and a volume of a material that states no density, are read, and everything else
    of the recipe is computed; but no batch can be weighed from it.  A warning, not a block, since formulas from
    books come like this.
    """

    id = "open-amount"
    severity = "warn"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every amount that cannot be known."""
        for charge in case.sums.composition.unknown:
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
