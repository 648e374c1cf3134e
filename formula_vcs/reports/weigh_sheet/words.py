"""Words that every format of a weigh sheet has in common."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from formula_vcs.batches.pack_fill import SOURCE, Fill
from formula_vcs.batches.weigh_sheet import SheetStep, WeighSheet
from formula_vcs.words.numbers import shown

NAMES = {"temp": "temperature", "mixer": "on", "rest": "rest", "shear": "shear", "speed": "speed", "time": "time"}
WEAR = "Wear and mind (common practice; no source)"
HAZARDS = "Hazard statements (Regulation (EC) No 1272/2008, Annex III; wording from memory)"


def header(sheet: WeighSheet) -> Iterator[tuple[str, str]]:
    """Give what stands at the head of a sheet, name and value."""
    batch = sheet.batch
    yield "Recipe", f"{sheet.formula.recipe.title} ({batch.recipe})"
    yield "Version", f"commit {(batch.commit or '')[:12]}, content {(batch.hash or '')[:12]}"
    yield "Size", f"{batch.size} (the lines add up to {sheet.total})"
    yield "Date", str(batch.date or "")
    yield "Equipment", ", ".join(sheet.equipment) or "as the steps say"
    yield "Made by", batch.made_by or ""
    yield "Checked by", batch.checked_by or ""


def set_points(step: SheetStep) -> list[str]:
    """Give the set points of a step, one phrase each."""
    return [f"{NAMES.get(name, name)} {value}" for name, value in step.values.items()]


def fill(found: Fill, basis: str, fillers: Sequence[str] = ()) -> Iterator[str]:
    """Say how many packs a batch fills, to what, and how far a pack may fall short."""
    unit = found.unit
    yield f"{found.packs:,} packs of {shown(found.nominal, 0, 2)} {unit}, {shown(found.pack_mass * 1000, 2, 2)} g each"
    yield f"fill to {shown(found.mean, 0, 2)} {unit} on average; the mean of the batch may not lie under the nominal"
    if found.error is None or found.short is None or found.never is None:
        yield f"no tolerable error: {SOURCE}, goes from 5 g or mL to 10 kg or L"
    else:
        yield (
            f"tolerable error {shown(found.error, 0, 2)} {unit} ({SOURCE}): few packs under "
            f"{shown(found.short, 0, 2)} {unit}, none under {shown(found.never, 0, 2)} {unit}"
        )
    yield from fillers
    if basis:
        yield f"by density: {basis}"
