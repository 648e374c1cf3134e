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
            words = f"the premixes go round in a circle: {' -> '.join(chain)}"
            at = case.place_of(lambda found, chain=chain: found.recipe in chain)  # type: ignore[misc]
            yield self.say(case, words, at, subject="/".join(sorted(set(chain))))
