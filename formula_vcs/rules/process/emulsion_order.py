"""What is outside in an emulsion is in the vessel first, and a double emulsion sees no shear that breaks it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Final

from formula_vcs.figures.substance_parts import parts_of
from formula_vcs.model.emulsion import DOUBLE, IN_OIL
from formula_vcs.model.finding import Finding
from formula_vcs.model.pair import class_tag
from formula_vcs.process.simulate import StepState
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


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
