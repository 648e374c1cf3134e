"""Words that every format of a weigh sheet has in common."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from formula_vcs.batches.pack_fill import SOURCE, Fill
from formula_vcs.batches.sheet_masses import StepCharge
from formula_vcs.batches.weigh_sheet import SheetLine, SheetPoint, SheetResult, SheetStep, WeighSheet
from formula_vcs.words.imitation import titled
from formula_vcs.words.numbers import shown

_NAMES = {"temp": "temperature", "mixer": "on"}
WEAR = "Wear and mind"
HAZARDS = "Hazard statements"
SOURCES = (
    "Hazard statements: Regulation (EC) No 1272/2008, Annex III, wording from memory. What to wear and mind: common "
    "practice, no source."
)
NOT_RECORDED = "not recorded"
DRY_RUN = "NOT A BATCH: dry run"
DRY_RUN_LINE = "This is a dry run: no batch file was written, and nothing may be made by this sheet."


def title(sheet: WeighSheet) -> str:
    """Give the title of a sheet."""
    return f"Dry run: {titled(sheet.formula.recipe.title)}" if sheet.dry_run else f"Weigh sheet {sheet.batch.id}"


def state(sheet: WeighSheet) -> str:
    """Say how far the batch is."""
    batch = sheet.batch
    if sheet.dry_run:
        return DRY_RUN
    if batch.closed is not None:
        count = len(batch.deviations)
        noted = f", with {count} deviation{'' if count == 1 else 's'} on record" if count else ""
        return f"closed on {batch.closed}{noted}"
    filled = any(line.weighed for line in sheet.lines) or any(step.recorded for step in sheet.steps)
    return "being made: not closed" if filled or batch.results else "planned: nothing is recorded yet"


def header(sheet: WeighSheet) -> Iterator[tuple[str, str]]:
    """Give what stands at the head of a sheet, name and value."""
    batch = sheet.batch
    yield "Recipe", f"{titled(sheet.formula.recipe.title)} ({batch.recipe})"
    yield "Version", f"commit {(batch.commit or '')[:12]}, content {(batch.hash or '')[:12]}"
    yield "Size", f"{batch.size} (the lines add up to {sheet.total})"
    yield "State", state(sheet)
    yield "Date", str(batch.date or "")
    yield "Equipment", ", ".join(sheet.equipment) or "as the steps say"
    yield "Made by", batch.made_by or ""
    yield "Checked by", batch.checked_by or ""


def plan_of(sheets: Sequence[WeighSheet]) -> list[str]:
    """Say in which order several sheets are worked off, premixes first; nothing of one sheet."""
    if len(sheets) < 2:
        return []
    return [f"{titled(sheet.formula.recipe.title)}, {sheet.batch.size} ({sheet.batch.id})" for sheet in sheets]


def grade(line: SheetLine) -> str:
    """Name the very grade: id in the files, the supplier and his code."""
    sold = " ".join(part for part in (line.supplier, line.code) if part)
    return line.ingredient + (f", {sold}" if sold else "")


def beside(line: SheetLine) -> list[str]:
    """Give what else is to be known of a line, a phrase each."""
    found = [text for text in (line.part, line.kept) if text]
    if line.premix:
        found.append("a premix: its lot is the batch that made it")
    if line.hazards:
        found.append(" ".join(line.hazards))
    return found


def others(line: SheetLine) -> str:
    """Warn of another grade of the same name; empty where there is none."""
    return f"not {' and not '.join(line.others)}: the same INCI name, another grade" if line.others else ""


def added(charge: StepCharge) -> str:
    """Name what a step takes of a charge: mass and title."""
    share = f"{charge.share} of " if charge.share else ""
    return f"{charge.mass or 'mass not on file:'} {share and f'({share}the charge) '}{charge.title}"


def adjusting(charge: StepCharge) -> str:
    """Say how a charge that is kept for adjusting goes in."""
    planned = f", {charge.mass} planned" if charge.mass else ""
    most = f", {charge.most} at most" if charge.most else ", no most is stated"
    return f"{charge.title}: in parts{planned}{most}"


def name_of(point: SheetPoint) -> str:
    """Name a set point."""
    return _NAMES.get(point.name, point.name)


def result_mark(result: SheetResult) -> str:
    """Say how a result lies by its spec; empty while there is none."""
    if not result.value:
        return ""
    if not result.spec:
        return "the spec asks for none"
    return result.off or "inside"


def step_title(step: SheetStep) -> str:
    """Name a step: what is to be done where the recipe says it, and its id."""
    return f"{step.title} ({step.id})" if step.title else step.id


def unused(sheet: WeighSheet) -> Iterator[str]:
    """Warn of charges that are weighed and that no step takes."""
    if sheet.unused:
        yield f"no step says where these go in: {', '.join(sheet.unused)}; ask before they are added"


def deviations(sheet: WeighSheet) -> list[str]:
    """Give what is recorded as deviation, in full."""
    return [
        f"{row.about}: {row.why or 'why is not recorded'} (decided by {row.decided_by or 'nobody that is recorded'})"
        for row in sheet.batch.deviations
    ]


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
