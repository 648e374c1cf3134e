"""Preservation and water of a recipe."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from formula_vcs.figures.low_risk import low_risk, summary
from formula_vcs.figures.preservatives import CAUTION, COVERED, System, covered_by, free_acids, said, systems
from formula_vcs.figures.water_activity import water_activity
from formula_vcs.reports.document.blocks import GAP, Block, Heading, Items, ListEntry, Paragraph
from formula_vcs.reports.sheets import RecipeSheet
from formula_vcs.words.imitation import titled


def preservation_blocks(sheet: RecipeSheet, level: int = 1) -> tuple[Block, ...]:
    """Give what preserves, the free acids over the pH range, the water activity, and the criteria of low risk."""
    acids = [
        f"{said(free)}; pKa {free.acid.row['pka'][0]} ({_source(free.acid.row)})" for free in free_acids(sheet.sums)
    ]
    activity = water_activity(sheet.sums, sheet.terms)
    if activity.value is None:
        water = f"water activity: not known; {'; '.join(activity.missing)}"
    else:
        water = f"water activity {float(activity.value):.3f}; {'; '.join(activity.basis)}"
    flags = low_risk(sheet.sums, sheet.terms)
    return (
        Heading(f"{titled(sheet.recipe.title)}: preservation and water", level), GAP,
        *_listed(map(_system, systems(sheet.sums)), "nothing in it is known to preserve"), GAP,
        *_listed(acids, "no weak-acid preservative, no pH range in the spec, or no water"), *_listed([water]), GAP,
        Heading("Low microbiological risk (ISO 29621)", 2),
        *_listed([*(f"{flag.criterion}: {flag.verdict} ({flag.because})" for flag in flags), summary(flags)]), GAP,
        Paragraph(CAUTION),
    )  # fmt: skip


def _listed(lines: Iterable[str], nothing: str = "") -> Iterator[Block]:
    entries = tuple(map(ListEntry, lines))
    yield Items(entries, hang=4) if entries else Paragraph(nothing, indent=2)


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
