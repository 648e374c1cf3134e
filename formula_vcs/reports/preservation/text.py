"""Preservation and water of a recipe, for a terminal."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.figures.free_acid import CAUTION, free_acids, said
from formula_vcs.figures.low_risk import low_risk, summary
from formula_vcs.figures.preservatives import COVERED, System, covered_by, systems
from formula_vcs.figures.water_activity import water_activity
from formula_vcs.reports.sheets import RecipeSheet
from formula_vcs.reports.terminal import Ink


def write(sheet: RecipeSheet, *, out: TextIO) -> None:
    """Write what preserves, the free acids over the pH range, the water activity, and the criteria of low risk."""
    ink = Ink(out)
    ink.wrapped(f"{sheet.recipe.title}: preservation and water", style="strong")
    ink.line()
    for system in systems(sheet.sums):
        ink.wrapped(_system(system), "  ", "      ")
    if not systems(sheet.sums):
        ink.wrapped("nothing in it is known to preserve", "  ")
    ink.line()
    found = free_acids(sheet.sums)
    for free in found:
        ink.wrapped(f"{said(free)}; pKa {free.acid.row['pka'][0]} ({_source(free.acid.row)})", "  ", "      ")
    if not found:
        ink.wrapped("no weak-acid preservative, no pH range in the spec, or no water", "  ")
    activity = water_activity(sheet.sums, sheet.terms)
    if activity.value is None:
        ink.wrapped(f"water activity: not known; {'; '.join(activity.missing)}", "  ", "      ")
    else:
        ink.wrapped(f"water activity {float(activity.value):.3f}; {'; '.join(activity.basis)}", "  ", "      ")
    ink.line()
    flags = low_risk(sheet.sums, sheet.terms)
    ink.wrapped("Low microbiological risk (ISO 29621)", style="strong")
    for flag in flags:
        ink.wrapped(f"{flag.criterion}: {flag.verdict} ({flag.because})", "  ", "      ")
    ink.wrapped(summary(flags), "  ", "      ")
    ink.line()
    ink.wrapped(CAUTION)


def _system(system: System) -> str:
    """Say a preservative: ``phenoxyethanol 0.9 %: against Gram-positive bacteria ..., pH 3 to 10``."""
    words = f"{system.title} {float(system.pct):.3g} %"
    if system.row is None:
        return f"{words}: its file says that it preserves; against what is not known"
    low, high = system.row["ph"]
    against = ", ".join(germ for germ in COVERED if germ in covered_by(system)) or "what is not judged"
    parts = [f"against {against}", f"pH {low:g} to {high:g}", f"usually {_usual(system.row['usual'])} %"]
    parts += [] if system.row["annex_v"] else ["no entry in Annex V"]
    parts += [] if system.enough else ["too little to count"]
    parts += ["counts for nothing without a partner"] if system.booster else []
    return f"{words}: {'; '.join(parts)} ({system.row['source']})"


def _usual(span: list[float]) -> str:
    return f"{span[0]:g}" if span[0] == span[1] else f"{span[0]:g} to {span[1]:g}"


def _source(row: dict[str, str]) -> str:
    return row["source"] if row["verified"] == "seen" else f"{row['source']}, {row['verified']}"
