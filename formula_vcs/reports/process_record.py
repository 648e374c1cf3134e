"""A process as JSON: the part "process" of show.json."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.process_run import Process, ProcessRow
from formula_vcs.figures.vessels import shares
from formula_vcs.process.simulate import Warmth
from formula_vcs.words.numbers import ZERO_CELSIUS, exact_text


def process(sums: Breakdown, found: Process) -> dict[str, Any]:
    """Give the walk: vessels, steps with the state after each, and every charge's exposures.

    Masses and percentages are exact and so strings; numbers of mixing are estimates and so plain numbers, in SI units.
    """
    percent = shares(sums)
    return {
        "batch_kg": exact_text(found.batch),
        "vessels": [
            {"vessel": name, "equipment": machine.id if (machine := found.machines.get(name)) is not None else None}
            for name in found.vessels
        ],
        "steps": [_step(row, found, percent) for row in found.rows],
        "exposures": {key: [_exposure(row) for row in life.rows] for life in found.lives for key in life.charges},
    }


def _step(row: ProcessRow, found: Process, percent: dict[str, Fraction]) -> dict[str, Any]:
    stage = row.stage
    return {
        "step": stage.step.id,
        "vessel": stage.vessel,
        "added": [{"charge": key, "kg": exact_text(kg)} for key, kg in row.added],
        "joined": [{"vessel": source, "kg": exact_text(kg)} for source, kg in row.joined],
        "holds": {
            name: {
                "kg": exact_text(kg),
                "temp": temperature(stage.warmth.get(name)),
                "charges": _content(stage.contents[name], percent, found.batch, kg),
            }
            for name, kg in row.holds.items()
        },
        **numbers(row),
    }


def _content(
    content: dict[str, Fraction], percent: dict[str, Fraction], batch: Fraction, whole: Fraction
) -> list[dict[str, str]]:
    rows = []
    for key, share in content.items():
        kg = share * percent[key] * batch / 100
        rows.append({"charge": key, "kg": exact_text(kg), "pct": exact_text(kg / whole * 100 if whole else kg)})
    return rows


def _exposure(row: ProcessRow) -> dict[str, Any]:
    return {
        "step": row.stage.step.id,
        "vessel": row.stage.vessel,
        "temp": temperature(row.warmth),
        **numbers(row),
    }


def numbers(row: ProcessRow) -> dict[str, Any]:
    """Give what a step's speed and tool come to."""
    found, done = row.numbers, row.work
    return {
        "shear": row.stage.step.shear or "none",
        "class": found.shear_class,
        "mixer": row.stage.step.mixer,
        "tip_speed": _span(found.tip),
        "gap_shear": _span(found.gap),
        "mean_shear": _span(found.mean),
        "time": done.time,
        "power": done.power,
        "energy": done.energy,
        "reynolds": done.reynolds,
        "regime": done.regime,
        "turnovers": done.turnovers,
        "blend_time": done.blend_time,
        "missing": list(done.missing),
        "basis": [done.basis] if done.basis else [],
    }


def _span(span: tuple[float, float] | None) -> list[float] | None:
    return None if span is None else list(span)


def temperature(found: Warmth | None) -> dict[str, Any] | None:
    """Give a temperature range in degC; ``stated`` says that this step states it."""
    if found is None:
        return None
    low, high = (None if end is None else exact_text(end - ZERO_CELSIUS) for end in (found.low, found.high))
    return {"low": low, "high": high, "stated": found.stated}
