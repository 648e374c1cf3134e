"""Temperatures and rests: what a charge stands, and how long something must stand."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.recipe import Step
from formula_vcs.process.simulate import Exposure, Warmth
from formula_vcs.rules.handling import STATED, HandlingLimit
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.numbers import celsius, hours

# --- What a material may and must live through in warmth


class TempAtMost(Rule):
    """No charge is in a vessel at a temperature above its ingredient's `temp_at_most`.

    Why: a gum's chain shortens, a peptide unfolds, an essential oil leaves.  A charge is exposed to every step that
    its vessel is worked in after it went in.  A step's range must lie below the limit as a whole, since the factory
    may work anywhere in it; a step that states only "at least 70 degC" is a warning.  So is adding it where no
    temperature is stated and the last one of the vessel was above the limit: nobody says that it has cooled.

    Not so:
        temp = "78 to 84 degC"     # with a gum of temp_at_most = "80 degC" in the vessel
    """

    id = "temp-at-most"
    source = STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every temperature that a step states with the limit."""
        for demand in case.demands.get("temp_at_most", ()):
            limit: Quantity = demand.value
            for index, exposure in enumerate(case.sums.walk.exposures.get(demand.charge.key, ())):
                warmth = exposure.warmth
                if warmth is None:
                    continue
                if not warmth.stated:
                    if index == 0 and warmth.low is not None and warmth.low > limit.base:
                        yield self._not_cooled(case, demand, exposure, warmth.low)
                    continue
                if warmth.high is None or warmth.high > limit.base:
                    yield self._over(case, demand, exposure, warmth)

    def _not_cooled(self, case: Case, demand: HandlingLimit, exposure: Exposure, last: Fraction) -> Finding:
        words = (
            f"step '{exposure.step.id}' adds {demand.place} and states no temperature, the last stated for the vessel "
            f"being from {celsius(last)}: {demand.named} must stay at {demand.value} or below{demand.because()}"
        )
        subject = f"{demand.charge.key}/{demand.material}/{exposure.step.id}"
        return self.say(case, words, exposure.step.path, subject=subject, severity="warn")

    def _over(self, case: Case, demand: HandlingLimit, exposure: Exposure, warmth: Warmth) -> Finding:
        step = exposure.step
        at_worst = "has no upper end" if warmth.high is None else f"goes to {celsius(warmth.high)}"
        words = (
            f"step '{step.id}' {at_worst} ({step.span('temp')}) with {demand.place} in the vessel: "
            f"{demand.named} must stay at {demand.value} or below{demand.because()}"
        )
        certain = warmth.high is not None or (warmth.low is not None and warmth.low > demand.value.base)
        return self.say(
            case,
            words,
            (*step.path, "temp"),
            subject=f"{demand.charge.key}/{demand.material}/{step.id}",
            severity="block" if certain else "warn",
            on_value=True,
        )


class TempAtLeast(Rule):
    """A charge that needs `temp_at_least` meets it in some step.

    Why: a wax that never melts and a gum that hydrates only hot stay grains.  Judged where every step that the
    charge is there for says how warm it is.
    """

    id = "temp-at-least"
    source = STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the warmest step that a charge was there for with what it needs."""
        for demand in case.demands.get("temp_at_least", ()):
            seen = case.sums.walk.exposures.get(demand.charge.key, [])
            tops = [None if exposure.warmth is None else exposure.warmth.high for exposure in seen]
            highs = [top for top in tops if top is not None]
            if not seen or len(highs) < len(tops) or max(highs) >= demand.value.base:
                continue
            words = (
                f"{demand.place}: {demand.named} needs {demand.value}{demand.because()}, "
                f"and the warmest step it sees goes to {celsius(max(highs))}"
            )
            yield self.say(case, words, demand.charge.path, subject=f"{demand.charge.key}/{demand.material}")


class AddBelow(Rule):
    """A charge goes in below its ingredient's `add_below`.

    Why: fragrance, flavour and many preservatives leave or break when they are poured into hot product.  Where the
    step that adds it states no temperature, the last one stated for that vessel counts, and breaking it is a
    warning: nobody says that it has cooled.  The limit itself is named as a note.

    Not so:
        add  = ["C/lavender-oil"]       # add_below = "45 degC"
        temp = "60 to 65 degC"
    """

    id = "add-below"
    source = STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the temperature of the step that adds a charge with its limit."""
        for demand in case.demands.get("add_below", ()):
            for stage in case.sums.walk.stages:
                added = any(not a.source and demand.charge.key in a.keys for a in stage.arrivals)
                warmth = stage.warmth.get(stage.vessel) if added else None
                if warmth is None or warmth.high is None or warmth.high < demand.value.base:
                    continue
                at: Path = (*stage.step.path, "temp" if warmth.stated else "add")
                on_limit = warmth.high == demand.value.base
                severity: Severity = "note" if on_limit else "block" if warmth.stated else "warn"
                how = f"at up to {celsius(warmth.high)}" if warmth.stated else self._carried(warmth)
                verdict = "on the limit" if on_limit else "to be added"
                words = (
                    f"step '{stage.step.id}' adds {demand.place} {how}: {demand.named} is {verdict} "
                    f"below {demand.value}{demand.because()}"
                )
                yield self.say(
                    case,
                    words,
                    at,
                    subject=f"{demand.charge.key}/{demand.material}/{stage.step.id}",
                    severity=severity,
                    on_value=True,
                )

    @staticmethod
    def _carried(warmth: Warmth) -> str:
        top = "" if warmth.high is None else f" up to {celsius(warmth.high)}"
        return f"and states no temperature, the last stated for the vessel being{top}"


# --- A rest that is asked for is there


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
