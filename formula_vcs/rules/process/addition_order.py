"""The order in which charges and phases go in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.figures.substance_parts import parts_of
from formula_vcs.model.finding import Finding
from formula_vcs.model.pair import class_tag
from formula_vcs.model.product import DOUBLE, IN_OIL
from formula_vcs.model.recipe import Charge, Step
from formula_vcs.process.simulate import ProcessRun, StepState, Warmth
from formula_vcs.rules.handling import STATED, HandlingLimit, called, matching
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule
from formula_vcs.words.numbers import celsius, kelvins

# --- Who must be in the vessel before whom


class Meeting(NamedTuple):
    """Where a charge first meets another: in which step, and which of the two was in the vessel before."""

    step: Step
    first: str  # "other", "self", or "neither" where both come in at once


def meetings(walk: ProcessRun, key: str) -> dict[str, Meeting]:
    """Give, for every other charge, where a charge first meets it.

    In a step, contents of other vessels come first, then additions in their order, then what it adjusts with.
    """
    found: dict[str, Meeting] = {}
    held: dict[str, set[str]] = {}
    for stage in walk.stages:
        for arrival in stage.arrivals:
            there = held.setdefault(arrival.vessel, set())
            coming = set(arrival.keys)
            if key in coming:
                for other in there:
                    found.setdefault(other, Meeting(stage.step, "other"))
                for other in coming:
                    found.setdefault(other, Meeting(stage.step, "neither"))
            elif key in there:
                for other in coming:
                    found.setdefault(other, Meeting(stage.step, "self"))
            there |= coming
            if arrival.source:
                held.pop(arrival.source, None)
    found.pop(key, None)
    return found


class ChargeOrder(Rule):
    """A charge goes in after what its ingredient says it comes `after`, and before what it comes `before`.

    Why: acid thrown on a preservative salt that is not dissolved gives crystals; salt before the gum has swollen
    gives fish eyes; salt before the surfactants and the viscosity peak is passed unseen.  What counts is which of
    the two is in the vessel when they first meet, so work in a side vessel is free.  `after` and `before` name
    functions or ingredients; names that the recipe does not use ask for nothing.

    A block where none of what should be there is; a warning where some of it is, or where both come in at once and
    the recipe does not say which goes first.

    So:
        [handling]
        after = ["preservative"]
    """

    id = "charge-order"
    source = STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare who was there first with what is asked."""
        for name, wanted in (("after", "other"), ("before", "self")):
            for demand in case.demands.get(name, ()):
                yield from self._of(case, demand, name, wanted)

    def _of(self, case: Case, demand: HandlingLimit, name: str, wanted: str) -> Iterator[Finding]:
        others = matching(case.formula, demand.value, demand.charge.key)
        if not others:
            return
        met = meetings(case.sums.walk, demand.charge.key)
        wrong = [other for other in others if other in met and met[other].first not in (wanted, "neither")]
        right = any(met[other].first == wanted for other in others if other in met)
        if wrong:
            yield self._wrong(case, demand, name, (others[wrong[0]], met[wrong[0]].step), right=right)
            return
        both = [other for other in others if other in met and met[other].first == "neither"]
        if both and not right:
            yield self._together(case, demand, name, (others[both[0]], met[both[0]].step))

    def _wrong(
        self, case: Case, demand: HandlingLimit, name: str, other: tuple[Charge, Step], *, right: bool
    ) -> Finding:
        charge, step = other
        asked = self._asked(case, demand, charge)
        words = (
            f"step '{step.id}' brings {demand.place} and '{charge.ingredient}' together the wrong way round: "
            f"'{demand.charge.ingredient}' has to come {name} {asked}{demand.because()}"
        )
        subject = f"{demand.charge.key}/{name}/{charge.ingredient}"
        return self.say(case, words, _place(step), subject=subject, severity="warn" if right else "block")

    def _together(self, case: Case, demand: HandlingLimit, name: str, other: tuple[Charge, Step]) -> Finding:
        charge, step = other
        words = (
            f"step '{step.id}' adds {demand.place} and '{charge.ingredient}' at once: "
            f"'{demand.charge.ingredient}' has to come {name} {self._asked(case, demand, charge)}{demand.because()}; "
            "name the charges in their order, or in steps of their own"
        )
        subject = f"{demand.charge.key}/{name}/{charge.ingredient}"
        return self.say(case, words, _place(step), subject=subject, severity="warn")

    @staticmethod
    def _asked(case: Case, demand: HandlingLimit, charge: Charge) -> str:
        names = called(case.formula, charge.ingredient)
        return " or ".join(f"'{name}'" for name in demand.value if name.casefold() in names)


class WetWith(Rule):
    """A charge that must be wetted goes onto what it is wetted with, before it meets water.

    Why: a gum that meets water first swells outside and stays dry inside (fish eyes); slurried in a humectant, each
    grain is apart when the water comes.  `wet_with` names functions or ingredients, one of which must be in the
    vessel already or go in with it: the two are then rubbed down together.  A block where none is there; a warning
    where water is there already, or where it goes in at the same time and nobody says which goes first.

    So:
        add = ["A/glycerin"]            # one step
        add = ["A/xanthan-gum"]         # the next, in the same vessel; then water
    """

    id = "wet-with"
    source = STATED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look at what is in the vessel when a charge goes in."""
        for demand in case.demands.get("wet_with", ()):
            arrival = next((a for s in case.sums.walk.stages for a in s.arrivals if demand.charge.key in a.keys), None)
            if arrival is None:
                continue
            met = meetings(case.sums.walk, demand.charge.key)
            before = {key for key, m in met.items() if m.step is arrival.step and m.first == "other"}
            wetting = matching(case.formula, demand.value, demand.charge.key)
            water = matching(case.formula, ["water"], demand.charge.key).keys() - wetting.keys()
            finding = self._judged(case, demand, arrival.step, (before, set(arrival.keys)), (set(wetting), water))
            if finding is not None:
                yield finding

    def _judged(
        self,
        case: Case,
        demand: HandlingLimit,
        step: Step,
        there: tuple[set[str], set[str]],
        wanted: tuple[set[str], set[str]],
    ) -> Finding | None:
        (before, at_once), (wetting, water) = there, wanted
        asked = " or ".join(demand.value)
        lead = f"step '{step.id}' adds {demand.place}"
        subject = f"{demand.charge.key}/wet-with"
        if wetting & before:
            if not water & (before | at_once):
                return None
            end = f"where water is in the vessel already; it has to be wetted with {asked} before water"
            severity = "warn"
        elif wetting & at_once:
            if water & before:
                end = f"where water is in the vessel already; it has to be wetted with {asked} before water"
            elif water & at_once:
                end = f"together with what wets it and with water; {asked} has to go in first, and water last"
            else:
                return None
            severity = "warn"
        else:
            end = f"with no {asked} in the vessel to wet it"
            severity = "block"
        words = f"{lead} {end}{demand.because()}"
        blocked = severity == "block"
        return self.say(case, words, _place(step), subject=subject, severity="block" if blocked else "warn")


def _place(step: Step) -> tuple[str, ...]:
    name = next((name for name in ("add", "from", "adjust") if name in step.facts), "")
    return (*step.path, name) if name else step.path


# --- What is outside in an emulsion is in the vessel first, and a double emulsion sees no shear that breaks it


class EmulsionOrder(Rule):
    """In water in oil the water goes into the oil; a double emulsion is joined gently.

    Why: the phase that is there first tends to stay outside. Oil that is poured into water gives oil in water, until
    it inverts or breaks, whatever the emulsifier. The droplets of a first emulsion are torn open by the shear that made
    them, so the second step of a double emulsion is stirred, not homogenised. Both common practice, no source: a
    warning. O/W is made either way round.

    Not so:
        emulsion = "W/O", and the step "join" takes the oil phase into the vessel of the water
    """

    id = "emulsion-order"
    severity = "warn"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look where water and the emulsifier of W/O come together, and what the result then sees."""
        kind = case.recipe.get("emulsion")
        if kind not in (*IN_OIL, *DOUBLE):
            return
        emulsifiers = {part.charge for part in parts_of(case.sums).called([class_tag("W/O emulsifier")])}
        before: Mapping[str, Mapping[str, Fraction]] = {}
        for stage in case.sums.walk.stages:
            here = before.get(stage.vessel, {})
            now = stage.contents.get(stage.vessel, {})
            came = {key for key in now if key not in here}
            if kind in IN_OIL and self._into_water(case, set(here), came, emulsifiers):
                words = (
                    f"step '{stage.step.id}' takes the oil phase into the water, and the emulsion is {kind}: "
                    "the water goes into the oil"
                )
                yield self.say(case, words, stage.step.path, subject=stage.step.id)
            if kind in DOUBLE and self._second(case, stage, before) and stage.step.shear in ("medium", "high"):
                words = (
                    f"step '{stage.step.id}' joins the first emulsion to the outer phase of {kind} under "
                    f"{stage.step.shear} shear, which opens its droplets"
                )
                yield self.say(case, words, (*stage.step.path, "shear"), subject=stage.step.id, on_value=True)
            before = stage.contents

    @staticmethod
    def _into_water(case: Case, here: set[str], came: set[str], emulsifiers: set[str]) -> bool:
        return bool(came & emulsifiers) and not here & emulsifiers and _watery(case, here) and not _watery(case, came)

    @staticmethod
    def _second(case: Case, stage: StepState, before: Mapping[str, Mapping[str, Fraction]]) -> bool:
        """Say whether a step joins two vessels of which one holds an emulsion, and the other something too."""
        sides = [set(before.get(name, {})) for name in (stage.vessel, *stage.step.joins)]
        both = [side for side in sides if _watery(case, side) and _oily(case, side)]
        return bool(both) and sum(bool(side) for side in sides) > 1


def _watery(case: Case, keys: set[str]) -> bool:
    water = parts_of(case.sums).water_by_charge
    return any(water.get(key, 0) >= _HALF for key in keys)


def _oily(case: Case, keys: set[str]) -> bool:
    found = (case.formula.ingredients.get(key.split("/", 1)[1]) for key in keys)
    return any(material is not None and _OILS & material.called for material in found)


_HALF: Final = 50
_OILS: Final = frozenset({"emollient", "oil", "wax", "butter", "emulsifier"})


# --- The two phases of an emulsion meet at about one temperature


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
    """The least and the most that two ranges can be apart; None where an end is open."""
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
