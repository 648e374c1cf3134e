"""Shear: what emulsions, thickeners and droplets are asked to take."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.recipe import SHEAR_MODES, Step
from formula_vcs.process.simulate import Exposure, StepState
from formula_vcs.process.step_numbers import CLASSES, UNKNOWN, said
from formula_vcs.rules.handling import STATED, HandlingLimit, matching
from formula_vcs.rules.rule import Case, Rule

# --- The shear mode that a step states fits its numbers


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


# --- What a grade may and must live through in shear


_RANK: Final = {mode: rank for rank, mode in enumerate(SHEAR_MODES)}


def numbers_of(sums: Breakdown, step: Step) -> str:
    """Say what a step states and what it comes to: ``3200 rpm, 12 min; tip speed 15.1 m/s``; empty without any."""
    stated = ", ".join(str(span) for span in (step.span("speed"), step.span("time")) if span is not None)
    return "; ".join(part for part in (stated, said(sums.numbers(step))) if part)


def _by_numbers(sums: Breakdown, exposure: Exposure) -> str:
    """The mode that a step states; where it states none, that of its numbers, which may be unknown."""
    step = exposure.step
    if step.shear is not None or step.mixer is None:
        return exposure.shear
    found = sums.numbers(step).classes[0]
    return "high" if found == "very high" else found


class ShearAtMost(Rule):
    """No charge is in a vessel at a shear mode above its ingredient's `shear_at_most`.

    Why: two grades of one INCI name can do opposite jobs.  A polishing silica, a bead, a flake or a crosslinked
    polymer is milled or torn by a rotor-stator, and nothing in the percentages shows it.  A charge is exposed to
    every step that its vessel is worked in after it went in, not only to the step that adds it.

    Judged by the mode that the step states; whether the mode fits the step's numbers is `shear-numbers`.  An
    ingredient may say why in `[handling] because`, and the finding repeats it.

    Not so:
        add = ["B/silica-polishing"] before a step with shear = "high" in the same vessel

    So:
        add it after the last step of high shear, and fold or stir it in
    """

    id = "shear-at-most"
    source = STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every step that a charge was there for with its limit."""
        for demand in case.demands.get("shear_at_most", ()):
            most = _RANK[demand.value]
            for exposure in case.sums.walk.exposures.get(demand.charge.key, ()):
                if _RANK[exposure.shear] > most:
                    yield self._over(case, demand, exposure)

    def _over(self, case: Case, demand: HandlingLimit, exposure: Exposure) -> Finding:
        step = exposure.step
        numbers = numbers_of(case.sums, step)
        words = (
            f"step '{step.id}' works at {exposure.shear} shear{f' ({numbers})' if numbers else ''} with "
            f"{demand.place} in the vessel: {demand.named} must see {demand.value} shear at most{demand.because()}"
        )
        at = (*step.path, "shear")
        return self.say(case, words, at, subject=f"{demand.charge.key}/{demand.material}/{step.id}", on_value=True)


class ShearAtLeast(Rule):
    """No charge that needs `shear_at_least` leaves the process without having seen it, in the right medium.

    Why: a thickening silica, a clay, a colloidal cellulose must be torn open to build its network.  Stirred in, it
    is an expensive filler, and the batch comes out thin.  Torn in the wrong medium it does not open either: an
    ingredient may say with `shear_with = ["water"]` what must be in the vessel for the shear to count, and what it
    has to come `before` (an electrolyte) must not be there yet.

    So:
        [handling]
        shear_at_least = "high"
        shear_with     = ["water"]
        before         = ["electrolyte"]
    """

    id = "shear-at-least"
    source = STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the highest shear that a charge has seen with what it needs."""
        if not case.recipe.steps:
            return
        for demand in case.demands.get("shear_at_least", ()):
            seen = case.sums.walk.exposures.get(demand.charge.key, [])
            modes = [_by_numbers(case.sums, exposure) for exposure in seen]
            pairs = zip(seen, modes, strict=True)
            enough = [exposure for exposure, mode in pairs if mode in _RANK and _RANK[mode] >= _RANK[demand.value]]
            if seen and not enough:
                best = max((mode for mode in modes if mode in _RANK), key=_RANK.__getitem__, default=UNKNOWN)
                if UNKNOWN in modes:
                    end = "and no step that states its shear gives it that"
                    yield self._say(case, demand, end, severity="warn")
                    continue
                yield self._say(case, demand, f"and the most it sees is {best}")
            elif enough:
                wrong, sure = self._wrong_medium(case, demand, enough)
                if wrong:
                    yield self._say(case, demand, wrong, severity="block" if sure else "warn")

    def _say(self, case: Case, demand: HandlingLimit, end: str, *, severity: Severity = "block") -> Finding:
        words = f"{demand.place}: {demand.named} needs {demand.value} shear to do its work{demand.because()}, {end}"
        subject = f"{demand.charge.key}/{demand.material}"
        return self.say(case, words, demand.charge.path, subject=subject, severity=severity)

    @staticmethod
    def _wrong_medium(case: Case, demand: HandlingLimit, enough: list[Exposure]) -> tuple[str, bool]:
        """Say why none of the steps counts, and whether that is sure; empty where one does, or no medium is asked for.

        It is not sure where what spoils it comes in by the very step: it may come when the shear has done its work.
        """
        own = {
            name: next((d.value for d in case.demands.get(name, ()) if d.charge is demand.charge), ())
            for name in ("shear_with", "before")
        }
        if not any(own.values()) or demand.inside:
            return "", True
        wanted, early = (matching(case.formula, names, demand.charge.key).keys() for names in own.values())
        reasons: list[str] = []
        sure = True
        for exposure in enough:
            stage = next(s for s in case.sums.walk.stages if s.step is exposure.step)
            there = stage.contents[stage.vessel].keys()
            spoiled = sorted(early & there)
            if own["shear_with"] and not wanted & there:
                reasons.append(f"in step '{exposure.step.id}' without {' or '.join(own['shear_with'])} in the vessel")
            elif spoiled:
                added = {key for arrival in stage.arrivals if not arrival.source for key in arrival.keys}
                sure = sure and not early & there <= added
                reasons.append(f"in step '{exposure.step.id}' with '{spoiled[0]}' in the vessel")
            else:
                return "", True
        return f"and sees it only {', '.join(reasons)}", sure
