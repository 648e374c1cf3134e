"""No high shear once the product has set."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.model.finding import Finding, Severity
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule
from formula_vcs.words.unit_words import celsius

USUAL: Final = Fraction("318.15")  # 45 degC, common practice
_STATED: Final = "stated by the recipe"


class SetPoint(Rule):
    """A product that has been hotter than its set point sees no high shear below it.

    Why: a cream's network of waxes and fatty alcohols builds while it cools.  Torn below that point it does not heal,
    and the batch stays thin.  The recipe states the point in its header, `set_point = "45 degC"`: high shear that
    can only be below it, after the product can only have been above it, is a block; where
    either only may be, a warning.  An emulsion that states none is warned below 45 degC (common practice, no source).
    """

    id = "set-point"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for high shear in a vessel that has been hotter, and is not any more."""
        stated = case.recipe.set_point
        if stated is None and case.recipe.get("form") != "emulsion":
            return
        point = USUAL if stated is None else stated.base
        passed: set[str] = set()  # may have been hotter
        surely: set[str] = set()  # was hotter
        for stage in case.sums.walk.stages:
            warmth = stage.warmth.get(stage.vessel)
            for hotter in (passed, surely):
                if any(arrival.source in hotter for arrival in stage.arrivals):
                    hotter.add(stage.vessel)
            if warmth is None or warmth.low is None or warmth.high is None or not warmth.stated:
                continue
            if stage.vessel in passed and stage.step.shear == "high" and warmth.low < point:
                certain = stated is not None and warmth.high < point and stage.vessel in surely
                words = (
                    f"step '{stage.step.id}' works at high shear at {stage.step.span('temp')}, below the set point "
                    f"of {celsius(point)}{'' if stated else ' (common practice)'}: what has set there is torn for good"
                )
                at = (*stage.step.path, "shear")
                severity: Severity = "block" if certain else "warn"
                yield self.say(
                    case, words, at, subject=stage.step.id, severity=severity,
                    on_value=True,
                )  # fmt: skip
            if warmth.high > point:
                passed.add(stage.vessel)
            if warmth.low >= point:
                surely.add(stage.vessel)
