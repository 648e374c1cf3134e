"""A move to another size, for a terminal."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.figures.scale_up import Scaled, ScaledStep
from formula_vcs.model.recipe import Recipe
from formula_vcs.reports.process.words import mass
from formula_vcs.reports.scale import words as scale_words
from formula_vcs.reports.terminal import Ink
from formula_vcs.words.numbers import shown


def write(recipe: Recipe, found: Scaled, *, out: TextIO) -> None:
    """Write each step that moves with its speed and what it cannot keep, then what holds for the whole batch."""
    ink = Ink(out)
    sizes = f"{shown(found.before.batch, 0)} kg to {shown(found.size, 0)} kg"
    ink.wrapped(f"{recipe.title}: {sizes} on {found.equipment.title} (dry run)", style="strong")
    ink.line()
    for step in found.moved:
        _step(ink, step)
    if not found.moved:
        ink.wrapped(f"no step is done by what '{found.equipment.id}' takes the place of", "  ")
        ink.line()
    for step in found.kept:
        ink.wrapped(f"{step.row.stage.step.id}: stays on '{step.device.id}', at its speed", "  ", "      ")
        for words in scale_words.lost(step):
            ink.wrapped(f"not kept: {words}", "      ", "          ")
    if found.kept:
        ink.line()
    ink.wrapped("The whole batch", style="strong")
    if found.cooling is not None:
        ink.wrapped(
            f"cooling and heating by the jacket take {found.cooling:.2f} times as long: the wall grows less than the "
            "content (McCabe, Smith, Harriott, Unit Operations, ch. 15; from memory)",
            "  ",
            "      ",
        )
    for words in scale_words.fill(found):
        ink.wrapped(words, "  ", "      ")
    factor = found.size / found.before.batch
    ink.wrapped(
        f"every charge is weighed {shown(factor, 0, 4)} times as much: {mass(found.size)} in all", "  ", "      "
    )
    ink.line()
    ink.wrapped(scale_words.CAUTION)


def _step(ink: Ink, step: ScaledStep) -> None:
    old, new = step.speeds
    said = "" if step.stated else " (not stated by the step: common practice)"
    ink.wrapped(f"{step.row.stage.step.id}: keeps {step.rule}{said}", "  ", "      ", style="strong")
    device = step.row.numbers.device
    names = f"'{device.id if device is not None else '-'}' to '{step.device.id}'"
    if step.missing:
        ink.wrapped(f"{scale_words.rpm(old)} on {names}: not known, {step.missing}", "      ")
    else:
        ink.wrapped(f"{scale_words.rpm(old)} to {scale_words.rpm(new)}, {names}", "      ")
    if step.limited is not None:
        ink.wrapped(
            f"it turns at {step.device.speed}: {scale_words.rpm(step.limited)} is the nearest, "
            f"so the {step.rule} is not kept",
            "      ",
        )
    lost = list(scale_words.lost(step))
    for words in lost:
        ink.wrapped(f"not kept: {words}", "      ", "          ")
    if not lost and step.after is not None:
        ink.wrapped("everything that can be said is kept", "      ")
    ink.line()
