"""The two phases of an emulsion meet at about one temperature."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import Step
from formula_vcs.process.simulate import StepState, Warmth
from formula_vcs.rules.handling import called
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule
from formula_vcs.words.unit_words import celsius, kelvins

USUAL: Final = Fraction(5)  # K, common practice
_OILY: Final = frozenset({"emollient", "emulsifier", "co-emulsifier", "structurant", "oil", "wax", "fat", "butter"})


class PhasesApart(Rule):
    """Contents that a step joins are not further apart in temperature than it allows.

    Why: a wax that meets cooler water sets before it is in droplets, and the cream comes out grainy or breaks.  A
    step states what it allows, `apart_at_most = "5 K"`: where the two cannot be within it, that is a block; where
    they may be outside it, a warning.  Where it states nothing, the oil phase and the water phase of an emulsion
    that are more than 5 K apart are a warning (common practice, no source).

    Not so:
        water phase at "60 to 62 degC", oil phase at "75 to 79 degC"

    So:
        both at 75 to 80 degC before they are joined
    """

    id = "phases-apart"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the temperatures of what every step joins, as they were before it."""
        emulsion = case.recipe.get("form") == "emulsion"
        before: StepState | None = None
        for stage in case.sums.walk.stages:
            step = stage.step
            if before is not None and step.joins and (emulsion or step.apart_at_most is not None):
                for source in step.joins:
                    yield from self._joined(case, step, before, (stage.vessel, source))
            before = stage

    def _joined(self, case: Case, step: Step, before: StepState, vessels: tuple[str, str]) -> Iterator[Finding]:
        target, source = vessels
        here, there = before.warmth.get(target), before.warmth.get(source)
        ends = None if here is None or there is None else _ends(here, there)
        if ends is None or not before.contents.get(target):
            return
        nearest, furthest = ends
        allowed = step.apart_at_most
        limit = USUAL if allowed is None else allowed.base
        if allowed is None and (nearest <= limit or not _oil_and_water(case, before, vessels)):
            return
        if furthest <= limit or here is None or there is None:
            return
        certain = nearest > limit
        how = f"at least {kelvins(nearest)}" if certain else f"up to {kelvins(furthest)}"
        rule = "more than the usual" if allowed is None else "the step allows"
        words = (
            f"step '{step.id}' joins '{source}' ({_range(there)}) and '{target}' ({_range(here)}), {how} apart: "
            f"{rule} {kelvins(limit)}"
        )
        subject = f"{step.id}/{source}"
        blocked = certain and allowed is not None
        at = (*step.path, "from")
        yield self.say(case, words, at, subject=subject, severity="block" if blocked else "warn", on_value=True)


def _ends(one: Warmth, two: Warmth) -> tuple[Fraction, Fraction] | None:
    """Give the least and the most that two ranges can be apart; None where an end is open."""
    if one.low is None or one.high is None or two.low is None or two.high is None:
        return None
    nearest = max(one.low - two.high, two.low - one.high, Fraction(0))
    return nearest, max(one.high - two.low, two.high - one.low)


def _range(warmth: Warmth) -> str:
    assert warmth.low is not None  # noqa: S101 - open ends were sorted out by _ends
    assert warmth.high is not None  # noqa: S101 - as above
    return f"{celsius(warmth.low).removesuffix(' degC')} to {celsius(warmth.high)}"


def _oil_and_water(case: Case, before: StepState, vessels: tuple[str, str]) -> bool:
    """Say whether one of two vessels holds water and the other only what makes an oil phase, and no water."""
    watery, oily = ([_holds(case, before, vessel, names) for vessel in vessels] for names in (_WATER, _OILY))
    return watery[0] != watery[1] and (oily[0] if watery[1] else oily[1])


_WATER: Final = frozenset({"water"})


def _holds(case: Case, before: StepState, vessel: str, names: frozenset[str]) -> bool:
    return any(names & called(case.formula, key.split("/", 1)[1]) for key in before.contents.get(vessel, ()))
