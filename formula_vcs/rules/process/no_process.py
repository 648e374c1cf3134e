"""A recipe says how it is made."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Case, Rule


class NoProcess(Rule):
    """A recipe has steps.

    Why: order, shear and heat are half of a formula.  Without steps nothing can be said of them; a recipe from a
    book, or a simple dilution, may do without, so this is a note.
    """

    id = "no-process"
    severity = "note"

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for a step."""
        if not case.recipe.steps and case.recipe.charges:
            yield self.say(case, "no steps are written: nothing is checked of order, shear and heat", (), subject="")
