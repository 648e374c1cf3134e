"""The numbers of a process in words, for every format."""

from __future__ import annotations

from fractions import Fraction

from formula_vcs.figures.process_run import Process
from formula_vcs.model.recipe import Step
from formula_vcs.process.simulate import Warmth
from formula_vcs.words.numbers import ZERO_CELSIUS, shown

NOTES = (
    "Tip speed, shear, energy and blend time are estimates from the equipment's numbers, at the highest speed and the "
    "longest time of a step; as of turbulent flow only in what is as thin as water, or stated to be thin enough. The "
    "classes of shear are common practice. No estimate replaces a trial batch."
)


def mass(kilograms: Fraction) -> str:
    """Write a mass with four figures: ``63.90 kg``, ``300.0 g``."""
    if kilograms and kilograms < 1:
        return f"{_figures(kilograms * 1000)} g"
    return f"{_figures(kilograms)} kg"


def _figures(value: Fraction) -> str:
    places = 3 if value < 10 else 2 if value < 100 else 1 if value < 1000 else 0
    return f"{float(round(value, places)):,.{places}f}"


def warmth(found: Warmth | None) -> str:
    """Write a temperature range: ``20 to 25 degC``; empty where it is not known."""
    if found is None:
        return ""
    low, high = (None if end is None else shown(end - ZERO_CELSIUS, 0, 1) for end in (found.low, found.high))
    if low is None or high is None:
        return f"at most {high} degC" if low is None else f"at least {low} degC"
    return f"{low} degC" if low == high else f"{low} to {high} degC"


def duration(seconds: float) -> str:
    """Write a time: ``8 min``, ``1.2 h``, ``45 s``."""
    if seconds < 90:
        return f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.1f} s"
    return f"{seconds / 60:.3g} min" if seconds < 5400 else f"{seconds / 3600:.3g} h"


def energy(joules: float) -> str:
    """Write an energy by mass: ``1.2 kJ/kg``, ``35 J/kg``."""
    return f"{joules / 1000:.3g} kJ/kg" if joules >= 1000 else f"{joules:.3g} J/kg"


def deeds(step: Step) -> str:
    """Write what a step does besides adding and joining: shear, speed, time, measuring, resting."""
    parts = [f"{step.shear} shear"] if step.shear is not None and step.shear != "none" else []
    parts += [str(span) for span in (step.span("speed"), step.span("time")) if span is not None]
    if step.measure is not None:
        accept = step.span("accept")
        parts.append(f"measure {step.measure}{f' {accept}' if accept is not None else ''}")
    rest = step.span("rest")
    if rest is not None:
        parts.append(f"rest {rest}")
    return ", ".join(parts)


def heading(found: Process) -> str:
    """Say for which batch this is."""
    size = f"{shown(found.batch, 0)} kg"
    return f"for {size}" if found.stated else f"for {size} (no batch size is stated)"
