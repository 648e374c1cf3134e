"""A vacuum can be held by the vessel, and does not make the batch boil."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.figures.substance_parts import parts_of
from formula_vcs.figures.vessels import holders
from formula_vcs.model.finding import Finding
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.process.boiling import boils_at, water_pressure
from formula_vcs.process.simulate import StepState
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.numbers import ZERO_CELSIUS

_SOURCE = "Wagner, Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783: pure water"


class VacuumBoils(Rule):
    """Water in the vessel does not boil under the vacuum of a step at its temperature.

    Why: water boils where its vapour pressure reaches the pressure over it: at 60 degC under 0.2 bar absolute. A batch
    that boils foams over into the pump, loses water that the formula counts, and the label's order with it. The hottest
    end of the step counts, with the deepest of the vacuum; where the step states no temperature, the last of the
    vessel. What comes in hotter than the step's own temperature is a note. Salts, sugars and glycerin let it boil some
    degrees later.

    Not so:
        temp   = "70 to 75 degC"
        vacuum = "0.2 bar absolute"       # boils from 60 degC on

    So:
        temp   = "35 to 40 degC"
    """

    id = "vacuum-boils"
    severity = "warn"
    source = _SOURCE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the hottest end of every step under vacuum with the boiling point there."""
        for stage in case.sums.walk.stages:
            vacuum = stage.step.span("vacuum")
            if vacuum is None or not _watery(case, stage):
                continue
            deepest = vacuum.low
            hottest = _hottest(case, stage)
            at = (*stage.step.path, "vacuum")
            name = f"step '{stage.step.id}'"
            if deepest is None:
                words = f"{name}: {vacuum} has no lower end: whether water boils there is not known"
                yield self.say(case, words, at, subject=f"{stage.step.id}/open", severity="note")
            elif hottest is None:
                words = f"{name} works under {vacuum} and states no temperature: whether water boils is not known"
                yield self.say(case, words, at, subject=f"{stage.step.id}/temp", severity="note")
            elif (water_pressure(hottest) or 0) >= float(deepest.base):
                boiling = boils_at(float(deepest.base))
                point = "at once" if boiling is None else f"from {boiling - float(ZERO_CELSIUS):.0f} degC on"
                goes = f"{hottest - float(ZERO_CELSIUS):.0f} degC"
                words = f"{name}: water boils {point} under {deepest}, and it goes to {goes}"
                yield self.say(case, words, at, subject=stage.step.id)
            else:
                yield from self._before(case, stage, deepest)

    def _before(self, case: Case, stage: StepState, deepest: Quantity) -> Iterator[Finding]:
        """Say where the content comes into the step hotter than the step's own temperature, and would boil then."""
        earlier = _hottest(case, stage, before=True)
        boiling = boils_at(float(deepest.base))
        if earlier is None or boiling is None or earlier < boiling:
            return
        came, point = (f"{value - float(ZERO_CELSIUS):.0f} degC" for value in (earlier, boiling))
        words = (
            f"step '{stage.step.id}': it comes in at up to {came}, and water boils from {point} on under {deepest}: "
            "draw the vacuum when it is cooler"
        )
        yield self.say(case, words, (*stage.step.path, "vacuum"), subject=f"{stage.step.id}/before", severity="note")


class VacuumHeld(Rule):
    """The vessel that a step under vacuum works in can hold that vacuum.

    Why: a vessel that is not built for it can collapse; what it may be brought to stands on its plate. Its file says so
    as `vacuum = "0.05 bar absolute"`, the lowest pressure that it holds. Where no vessel is named, nothing is said.
    """

    id = "vacuum-held"
    source = "stated by the equipment's file"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every vacuum with what the vessel states."""
        vessels = holders(case.formula)
        for stage in case.sums.walk.stages:
            vacuum = stage.step.span("vacuum")
            mixer = None if stage.step.mixer is None else case.formula.equipment.get(stage.step.mixer)
            if mixer is not None and mixer.volume is not None:
                vessels[stage.vessel] = mixer
            machine = vessels.get(stage.vessel)
            if vacuum is None or machine is None:
                continue
            at, subject = (*stage.step.path, "vacuum"), f"{stage.step.id}/{machine.id}"
            able: Range | None = machine.get("vacuum", Range)
            words = f"step '{stage.step.id}' asks for {vacuum} in '{machine.id}'"
            if able is None:
                words = f"{words}, whose file does not say that it holds a vacuum"
                yield self.say(case, words, at, subject=subject, severity="warn")
            elif able.low is not None and (vacuum.low is None or vacuum.low.base < able.low.base):
                yield self.say(case, f"{words}, which holds {able}", at, subject=subject, on_value=True)


def _watery(case: Case, stage: StepState) -> bool:
    water = parts_of(case.sums).water_by_charge
    return any(share and water.get(key) for key, share in stage.contents.get(stage.vessel, {}).items())


def _hottest(case: Case, stage: StepState, *, before: bool = False) -> float | None:
    """The hottest that a step may be in K: its own temperature, else the last one stated in its vessel.

    ``before`` gives the last one before the step alone.
    """
    hottest = None
    for one in case.sums.walk.stages:
        if before and one.step.id == stage.step.id:
            return hottest
        span = one.step.span("temp")
        if one.vessel == stage.vessel and span is not None:
            hottest = None if span.high is None else float(span.high.base)
        if one.step.id == stage.step.id:
            return hottest
    return hottest
