"""Where the spec has a pH, a step measures it."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.model.quantity import Range
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


class PhStep(Rule):
    """A recipe whose spec has a pH has a step that measures it, and accepts nothing that the spec refuses.

    Why: pH is set, not found.  It decides whether a weak-acid preservative works, and a factory sheet without the
    step is a batch without the number.

    So:
        [[step]]
        id      = "set-pH"
        measure = "pH"
        accept  = "4.8 to 5.4"
        adjust  = ["A/citric-acid-50"]
    """

    id = "ph-step"
    source = COMMON_PRACTICE

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for the step, and compare its window with the spec's."""
        spec = case.recipe.spec.get("pH")
        if spec is None or not case.recipe.steps:
            return
        steps = [step for step in case.recipe.steps if step.measure == "pH"]
        if not steps:
            yield self.say(case, f"the spec wants pH {spec}, and no step measures the pH", ("spec", "pH"))
            return
        accepted = steps[-1].span("accept")
        if accepted is not None and _wider(accepted, spec):
            words = f"step '{steps[-1].id}' accepts pH {accepted}, the spec only {spec}"
            yield self.say(case, words, (*steps[-1].path, "accept"), on_value=True)


def _wider(accepted: Range, spec: Range) -> bool:
    low = spec.low is not None and (accepted.low is None or accepted.low.base < spec.low.base)
    high = spec.high is not None and (accepted.high is None or accepted.high.base > spec.high.base)
    return low or high
