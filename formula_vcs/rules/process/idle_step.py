"""A step changes something."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import STEP_RANGES
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule

_DOES: Final = frozenset({"add", "from", "adjust", "measure", *STEP_RANGES})


class IdleStep(Rule):
    """A step adds, joins, moves, warms, measures or rests something.

    Why: a step that changes nothing is a line that somebody forgot to finish, or the left-over of an edit; a factory
    signs for it all the same.  Working in a vessel that holds nothing is `step-vessel`.
    """

    id = "idle-step"
    severity = "warn"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for steps that do nothing."""
        for stage in case.sums.walk.stages:
            step = stage.step
            if not (step.facts.keys() & _DOES) and step.shear in (None, "none"):
                yield self.say(case, f"step '{step.id}' changes nothing", step.path, subject=step.id)
