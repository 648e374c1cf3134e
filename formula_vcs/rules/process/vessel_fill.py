"""A vessel is filled as it works."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.vessels import holders, volume_of
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.process.simulate import StepState
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule
from formula_vcs.words.unit_words import litres

USUAL: Final = (Fraction(30, 100), Fraction(90, 100))  # of the volume; common practice
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
        usual = None if brim is None else (brim * USUAL[0], brim * USUAL[1])
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
