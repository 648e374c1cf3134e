"""Preservation and water as JSON: the part "preservation" of show.json."""

from __future__ import annotations

from typing import Any

from formula_vcs.figures.low_risk import low_risk
from formula_vcs.figures.preservatives import CAUTION, covered_by, free_acids, preserving, spec_range, systems
from formula_vcs.reports.sheets import RecipeSheet
from formula_vcs.words.numbers import exact_text


def preservation(sheet: RecipeSheet) -> dict[str, Any]:
    """Give what preserves, the free acids over the pH range, and the criteria of low risk."""
    span, counted = spec_range(sheet.sums), preserving(sheet.sums)
    return {
        "systems": [
            {
                "system": system.title,
                "substances": list(system.names),
                "pct": exact_text(system.pct),
                "against": sorted(covered_by(system)),
                "annex_v": None if system.row is None else system.row["annex_v"],
                "counts": system in counted,
            }
            for system in systems(sheet.sums)
        ],
        "pH": None if span is None else list(span),
        "acids": [
            {
                "acid": free.acid.title,
                "total_pct": exact_text(free.acid.total),
                "pKa": free.acid.row["pka"],
                "free_fraction": list(free.fraction),
                "free_pct_of_water_phase": list(free.in_water),
                "source": free.acid.row["source"],
                "verified": free.acid.row["verified"],
            }
            for free in free_acids(sheet.sums)
        ],
        "low_risk": [flag._asdict() for flag in low_risk(sheet.sums, sheet.terms)],
        "caution": CAUTION,
    }
