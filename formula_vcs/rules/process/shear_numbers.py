"""The shear mode that a step states fits its numbers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import SHEAR_MODES
from formula_vcs.process.simulate import StepState
from formula_vcs.process.step_numbers import CLASSES, UNKNOWN, said
from formula_vcs.rules.rule import Case, Rule

_THRESHOLDS: Final = "thresholds of the classes: common practice, no source; tip speed: Handbook of Industrial Mixing"


class ShearNumbers(Rule):
    """The shear mode that a step states is the one that its speed and its mixer's diameter and gap come to.

    Why: rpm say nothing without a diameter: 3000 rpm are gentle for a finger-wide rotor and 14 m/s for one of 90 mm.
    A step that still says "low" after its mixer was swapped is how a polishing grade gets milled.  The thresholds
    (figures/data/shear-classes.toml) are common practice, so this is a warning: the house may class otherwise, and
    accept it with its reason.  A charge that the numbers would overexpose is named, also where a step states no mode.

    By numbers: fold below 0.5 m/s and 20 1/s; low up to 3 m/s, medium up to 10 m/s, high above, for open tools; a
    rotor-stator is medium below 10,000 1/s in its gap and high from there.  A step that states low shear and comes to
    less is left alone, unless a charge in its vessel asks for shear.
    """

    id = "shear-numbers"
    severity = "warn"
    source = _THRESHOLDS
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare each step's mode with the class of its numbers."""
        for stage in case.sums.walk.stages:
            step = stage.step
            if step.mixer is None or "speed" not in step.facts:
                continue
            found = case.sums.numbers(step)
            low, high = found.classes
            if UNKNOWN in found.classes:
                continue
            if step.shear is None:
                over = self._over(case, stage, low)
                if over:
                    words = (
                        f"step '{step.id}' states no shear, and {step.span('speed')} of '{step.mixer}' "
                        f"({said(found)}) is {low}{over}"
                    )
                    yield self.say(case, words, (*step.path, "speed"), subject=step.id, on_value=True)
                continue
            rank = CLASSES.index(step.shear)
            if CLASSES.index(low) <= rank <= CLASSES.index(high) or (step.shear == "high" and low == "very high"):
                continue
            if step.shear == "low" and high == "fold" and not self._asks(case, stage):
                continue  # an anchor at its usual speed: gentler than stated, and nothing in the vessel asks for more
            by_numbers = high if low == high else f"{low} to {high}"
            words = (
                f"step '{step.id}' states {step.shear} shear, and {step.span('speed')} of '{step.mixer}' "
                f"({said(found)}) is {by_numbers}{self._over(case, stage, high)}"
            )
            yield self.say(case, words, (*step.path, "shear"), subject=step.id, on_value=True)

    @staticmethod
    def _asks(case: Case, stage: StepState) -> bool:
        """Say whether a charge in the vessel asks for shear."""
        there = stage.contents.get(stage.vessel, {})
        return any(demand.charge.key in there for demand in case.demands.get("shear_at_least", ()))

    @staticmethod
    def _over(case: Case, stage: StepState, by_numbers: str) -> str:
        """Name the charges in the vessel that may not see what the numbers say."""
        there = stage.contents.get(stage.vessel, {})
        over = [
            f"{demand.named} must see {demand.value} at most"
            for demand in case.demands.get("shear_at_most", ())
            if demand.charge.key in there and SHEAR_MODES.index(demand.value) < CLASSES.index(by_numbers)
        ]
        return f"; {'; '.join(over)}" if over else ""
