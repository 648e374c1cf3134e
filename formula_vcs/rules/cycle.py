"""No premix contains itself."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Case, Rule


class Cycle(Rule):
    """No premix contains itself, however deep.

    Why: a recipe that is an ingredient of itself has no composition.
    """

    id = "premix-cycle"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every closed chain."""
        for chain in case.formula.cycles:
            charge = next((c for c in case.recipe.charges if self._leads_into(case, c.ingredient, chain)), None)
            words = f"the premixes go round in a circle: {' -> '.join(chain)}"
            yield self.say(case, words, charge.path if charge else (), subject="/".join(sorted(set(chain))))

    @staticmethod
    def _leads_into(case: Case, ingredient: str, chain: tuple[str, ...]) -> bool:
        found = case.formula.ingredients.get(ingredient)
        return found is not None and found.recipe in chain
