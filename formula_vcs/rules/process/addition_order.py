"""Who must be in the vessel before whom."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import Charge, Step
from formula_vcs.process.simulate import ProcessRun
from formula_vcs.rules.handling import STATED, HandlingLimit, called, matching
from formula_vcs.rules.rule import Case, Rule


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
