"""A rest that is asked for is there."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import Step
from formula_vcs.rules.handling import STATED
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.unit_words import hours


class Rest(Rule):
    """A recipe rests as long as it, or an ingredient in it, asks for.

    Why: a gum that has not swollen, a gel full of air and a wash that has not cleared are measured wrong and filled
    wrong.  An ingredient asks with `[handling] rest = "12 h"`, for the time after it went in; a recipe in its header,
    with `rest_at_least = "12 h"`, for the time after the last step that stirs.  What counts is `rest`, and the
    `time` of a step with `shear = "none"`; of a range its shorter end.
    """

    id = "rest"
    source = STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Add up the rests that each charge, and the finished product, is there for."""
        if not case.recipe.steps:
            return
        for demand in case.demands.get("rest", ()):
            seen = case.sums.walk.exposures.get(demand.charge.key)
            if seen is None:
                continue
            rested = _rested([exposure.step for exposure in seen])
            if rested < demand.value.base:
                words = (
                    f"{demand.place}: {demand.named} asks for {demand.value} of rest{demand.because()}, "
                    f"and the steps give it {hours(rested) if rested else 'none'}"
                )
                yield self.say(case, words, demand.charge.path, subject=f"{demand.charge.key}/rest")
        yield from self._whole(case)

    def _whole(self, case: Case) -> Iterator[Finding]:
        asked = case.recipe.rest_at_least
        if asked is None:
            return
        steps: list[Step] = []
        for step in case.recipe.steps:
            steps = [] if step.shear not in (None, "none") else [*steps, step]
        rested = _rested(steps)
        if rested < asked.base:
            words = (
                f"the recipe asks for {asked} of rest after its last stirring, "
                f"and the steps give it {hours(rested) if rested else 'none'}"
            )
            yield self.say(case, words, ("rest_at_least",), subject="recipe", on_value=True)


def _rested(steps: list[Step]) -> Fraction:
    total = Fraction(0)
    for step in steps:
        span = step.span("rest") or (step.span("time") if step.shear == "none" else None)
        end = None if span is None else span.low or span.high
        total += Fraction(0) if end is None or (span is not None and span.low is None) else end.base
    return total
