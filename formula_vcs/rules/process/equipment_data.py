"""Equipment has the numbers that are needed of it."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import FORMAT, Case, Rule


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
