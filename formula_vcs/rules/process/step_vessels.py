"""The process ends in one vessel."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Case, Rule


class StepVessels(Rule):
    """Every step says which vessel it works in, where that is not clear, and the process ends in one vessel.

    Why: what is left in a second vessel never reaches the product.  `measure` and `rest` act on the one vessel that
    holds product; with several, `into` says which.  Heating a vessel that holds nothing is a warning, and so
    is content that comes back to a vessel which it has left: both may be meant.
    """

    id = "step-vessel"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say steps without a vessel, and vessels that are still full at the end."""
        walk = case.sums.walk
        for trouble in walk.troubles:
            if trouble.rule == self.id:
                yield self.say(case, trouble.message, trouble.at, subject=trouble.subject, severity=trouble.severity)
        full = walk.full()
        if len(full) > 1:
            last = case.recipe.steps[-1]
            names = ", ".join(f"'{name}'" for name in full)
            words = f"the process ends with product in {len(full)} vessels: {names}; a step has to join them ('from')"
            yield self.say(case, words, last.path, subject="end")
