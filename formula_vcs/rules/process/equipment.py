"""Equipment: what is known of it, what it can do, how far a vessel is filled."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.vessels import holders, volume_of
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import Step
from formula_vcs.process.mixing import tip_speed
from formula_vcs.process.simulate import StepState
from formula_vcs.rules.rule import COMMON_PRACTICE, FORMAT, Case, Rule
from formula_vcs.words.numbers import celsius, litres

# --- Equipment has the numbers that are needed of it


class EquipmentData(Rule):
    """Equipment that a step turns at a stated speed has the numbers to say what that is.

    Why: without the diameter of its rotor or impeller, and without the gap of a rotor-stator, rpm stay rpm: neither
    tip speed nor shear can be said, and the stated mode cannot be compared with anything.  A note.
    """

    id = "equipment-data"
    severity = "note"
    source = FORMAT
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Say once a machine what it lacks."""
        seen: set[str] = set()
        for step in case.recipe.steps:
            device = None if step.mixer is None else case.formula.equipment.get(step.mixer)
            if device is None or device.id in seen or "speed" not in step.facts or not device.readable:
                continue
            missing = case.sums.numbers(step).missing
            if missing:
                seen.add(device.id)
                words = f"step '{step.id}': {', '.join(missing)}: what its shear comes to is unknown"
                yield self.say(case, words, (*step.path, "mixer"), subject=device.id, on_value=True)


# --- A step asks of its equipment what it can do


_STATED = "stated by the equipment's file"
_ROOM: Final = (Fraction("288.15"), Fraction("303.15"))


class EquipmentRange(Rule):
    """A step's speed lies in its mixer's range, and its temperature in reach of the vessel's jacket.

    Why: a sheet that asks for 4000 rpm of a mixer that turns at 3600 is decided on the floor, differently by each
    shift.  Outside the range altogether is a block; a range that reaches out of it a warning, and a temperature that
    may come with what the step joins.  Room temperature (15 to 30 degC) needs no jacket.
    """

    id = "equipment-range"
    source = _STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare speed and temperature with what the equipment states."""
        for step in case.recipe.steps:
            device = None if step.mixer is None else case.formula.equipment.get(step.mixer)
            if device is None:
                continue
            speed = step.span("speed")
            if speed is not None and device.speed is not None:
                yield from self._compared(
                    case, step, device, "speed", (_turning(speed, device), _turning(device.speed, device))
                )
            temp = step.span("temp")
            if temp is not None and device.jacket is not None:
                yield from self._compared(case, step, device, "temp", (_span(temp), _with_room(_span(device.jacket))))

    def _compared(
        self, case: Case, step: Step, device: Equipment, name: str, spans: tuple[_Span | None, _Span | None]
    ) -> Iterator[Finding]:
        asked, can = spans
        if asked is None or can is None or _within(asked, can):
            return
        apart = (asked[0] is not None and can[1] is not None and asked[0] > can[1]) or (
            asked[1] is not None and can[0] is not None and asked[1] < can[0]
        )
        what = "turns at" if name == "speed" else "has a jacket of"
        stated = device.speed if name == "speed" else device.jacket
        words = f"step '{step.id}' asks for {step.span(name)} of '{device.id}', which {what} {stated}"
        at = (*step.path, name)
        brought = name == "temp" and bool(step.joins)
        yield self.say(
            case,
            words,
            at,
            subject=f"{step.id}/{name}/{device.id}",
            severity="block" if apart and not brought else "warn",
            on_value=True,
        )


_Span = tuple[Fraction | None, Fraction | None]


def _span(span: Range) -> _Span:
    return None if span.low is None else span.low.base, None if span.high is None else span.high.base


def _with_room(jacket: _Span) -> _Span:
    """What a vessel reaches with its jacket, and without it by standing in the room."""
    low, high = jacket
    return None if low is None else min(low, _ROOM[0]), None if high is None else max(high, _ROOM[1])


def _turning(span: Range, device: Equipment) -> _Span | None:
    """Give turns a second; a tip speed is turned into them by the diameter, and is None without one."""
    if span.dimension != "velocity":
        return _span(span)
    if device.tool is None:
        return None
    around = Fraction(tip_speed(float(device.tool), 1.0))
    low, high = _span(span)
    return None if low is None else low / around, None if high is None else high / around


def _within(asked: _Span, can: _Span) -> bool:
    low = can[0] is None or (asked[0] is not None and asked[0] >= can[0])
    high = can[1] is None or (asked[1] is not None and asked[1] <= can[1])
    # one-sided wishes ("at least 500 rpm") are met where the range meets them
    return (low or asked[0] is None) and (high or asked[1] is None)


# --- No high shear once the product has set


USUAL: Final = Fraction("318.15")  # 45 degC, common practice
_STATED_BY: Final = "stated by the recipe"


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


# --- A vessel is filled as it works


USUAL_FILL: Final = (Fraction(30, 100), Fraction(90, 100))  # of the volume; common practice
ERROR: Final = 1.05  # volumes by ideal additivity are good to some per cent


class VesselFill(Rule):
    """A vessel is not filled over or under its working range, at the batch size of the recipe.

    Why: under it the impeller beats air or turns in nothing; over it the batch climbs out when it is stirred.  Which
    vessel is meant follows from the steps: a step whose mixer is a piece of equipment with a volume works in it.
    Volumes are masses by the estimated density (ideal additivity, good to some per cent), so this is a warning; a
    batch that the recipe itself states and that is over 5 % more than the vessel holds to its brim is a block.  A
    vessel that states no working range is taken to work at 30 to 90 % of its volume (common practice, no source).
    """

    id = "vessel-fill"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every content with its vessel, once too much and once too little."""
        vessels = holders(case.formula)
        if not vessels or case.sums.composition.is_open:
            return
        batch = case.formula.batch
        if batch is None:
            return
        worst: dict[str, tuple[float, Finding]] = {}
        for stage in case.sums.walk.stages:
            mixer = None if stage.step.mixer is None else case.formula.equipment.get(stage.step.mixer)
            if mixer is not None and mixer.volume is not None:
                vessels[stage.vessel] = mixer  # what the recipe calls by one name may move to a larger pot
            machine = vessels.get(stage.vessel)
            if machine is None:
                continue
            volume = volume_of(case.sums, stage.contents.get(stage.vessel, {}), batch.base)
            finding = self._judged(case, stage, machine, volume) if volume else None
            if finding is None or volume is None:
                continue
            # of everything that is too much, the most is said; of everything that is too little, the least
            size = -volume if finding.subject.endswith("under") else volume
            if finding.subject not in worst or size > worst[finding.subject][0]:
                worst[finding.subject] = size, finding
        yield from (finding for _, finding in worst.values())

    def _judged(self, case: Case, stage: StepState, machine: Equipment, volume: float) -> Finding | None:
        stated = machine.working_range
        brim = machine.volume
        usual = None if brim is None else (brim * USUAL_FILL[0], brim * USUAL_FILL[1])
        low, high = stated or usual or (None, None)
        severity: Severity = "warn"
        if brim is not None and volume > brim:
            sure = volume > float(brim) * ERROR and case.recipe.batch is not None
            how, limit, side, severity = "more than it holds", brim, "over", "block" if sure else "warn"
        elif high is not None and volume > high:
            how, limit, side = "over its working range, up to", high, "over"
        elif low is not None and volume < low and stage.step.mixer == machine.id:
            how, limit, side = "under its working range, from", low, "under"
        else:
            return None
        basis = "" if stated or limit is brim else " (common practice)"
        words = (
            f"step '{stage.step.id}' has about {litres(volume)} in '{stage.vessel}' ({machine.title}): "
            f"{how} {litres(limit)}{basis}, for a batch of {case.formula.batch}"
        )
        subject = f"{machine.id}/{stage.vessel}/{side}"
        return self.say(case, words, stage.step.path, subject=subject, severity=severity)
