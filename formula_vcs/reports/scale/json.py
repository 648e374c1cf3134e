"""A move to another size as JSON, by the schema batch.json."""

from __future__ import annotations

from typing import Any, TextIO

from formula_vcs.figures.scale_up import Scaled, ScaledStep
from formula_vcs.model.recipe import Recipe
from formula_vcs.reports.check.json import dump
from formula_vcs.reports.scale import words as scale_words
from formula_vcs.words.numbers import exact_text


def write(recipe: Recipe, found: Scaled, *, out: TextIO) -> None:
    """Write the move; speeds in turns a second, the rest in SI units."""
    dump(
        {
            "recipe": recipe.id,
            "equipment": found.equipment.id,
            "from_kg": exact_text(found.before.batch),
            "to_kg": exact_text(found.size),
            "steps": [_step(step) for step in found.moved],
            "stay": [step.row.stage.step.id for step in found.kept],
            "stay_not_kept": {step.row.stage.step.id: list(scale_words.lost(step)) for step in found.kept},
            "cooling_time_ratio": found.cooling,
            "filling": list(scale_words.fill(found)),
            "caution": scale_words.CAUTION,
        },
        out,
    )


def _step(step: ScaledStep) -> dict[str, Any]:
    device = step.row.numbers.device
    return {
        "step": step.row.stage.step.id,
        "rule": step.rule,
        "stated": step.stated,
        "from": None if device is None else device.id,
        "speed": {"before": step.speeds[0], "after": step.speeds[1], "limited_to": step.limited},
        "numbers": {
            name.replace(" ", "_"): {"before": old, "after": new}
            for name, (old, new) in scale_words.quantities(step).items()
        },
        "not_kept": list(scale_words.lost(step)),
        "missing": step.missing,
    }
