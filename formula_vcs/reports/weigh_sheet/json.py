"""Weigh sheets as JSON, by the schema weigh-sheet.json."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TextIO

from formula_vcs.batches.sheet_masses import StepCharge
from formula_vcs.batches.weigh_sheet import CAUTION, SheetPoint, WeighSheet
from formula_vcs.reports.document.data import dump
from formula_vcs.words.numbers import exact_text


def write(sheets: Sequence[WeighSheet], *, out: TextIO) -> None:
    """Write the sheets; masses in kg at full precision."""
    dump({"sheets": [_sheet(sheet) for sheet in sheets], "caution": CAUTION}, out)


def _sheet(sheet: WeighSheet) -> dict[str, Any]:
    batch = sheet.batch
    return {
        "batch": batch.id,
        "recipe": batch.recipe,
        "commit": batch.commit,
        "hash": batch.hash,
        "size_kg": None if batch.size is None else exact_text(batch.size.base),
        "date": None if batch.date is None else str(batch.date),
        "equipment": list(batch.equipment),
        "notes": list(sheet.notes),
        "dry_run": sheet.dry_run,
        "lines": [
            {
                "phase": line.phase, "charge": line.key, "title": line.title, "ingredient": line.ingredient,
                "code": line.code, "supplier": line.supplier, "other_grades": list(line.others),
                "target": line.target, "window": line.window,
                "allowed": line.allowed, "allowed_by": line.why_allowed, "balance": line.balance, "lot": line.lot,
                "weighed": line.weighed, "off": line.off, "by": line.by, "checked_by": line.checked_by,
                "part": line.part, "kept": line.kept, "premix": line.premix,
                "second_check": line.second, "hazards": list(line.hazards),
            }
            for line in sheet.lines
        ],
        "unused": list(sheet.unused),
        "steps": [
            {
                "step": step.id, "title": step.title, "vessel": step.vessel, "add": [_charge(one) for one in step.adds],
                "from": list(step.joins), "points": [_point(one) for one in step.points], "scaled": step.remark,
                "measure": None if step.measure is None else _point(step.measure),
                "adjust": [_charge(one) for one in step.adjusts], "note": step.note, "second_check": step.second,
                "started": step.started, "ended": step.ended, "by": step.by, "checked_by": step.checked_by,
            }
            for step in sheet.steps
        ],
        "results": [
            {"name": one.name, "spec": one.spec, "value": one.value, "off": one.off} for one in sheet.results
        ],
        "made": "" if batch.made is None else str(batch.made),
        "packs": batch.packs,
        "closed": None if batch.closed is None else str(batch.closed),
        "deviations": [
            {"about": row.about, "why": row.why, "decided_by": row.decided_by} for row in batch.deviations
        ],
        "hazards": [{"code": found.code, "says": found.says, "of": list(found.of)} for found in sheet.hazards],
        "wear": list(sheet.wear),
        "cautions": list(sheet.cautions),
        "fill": None if sheet.fill is None else _fill(sheet),
    }  # fmt: skip


def _charge(charge: StepCharge) -> dict[str, Any]:
    return {
        "charge": charge.key, "title": charge.title, "mass": charge.mass, "share": charge.share, "at_most": charge.most,
    }  # fmt: skip


def _point(point: SheetPoint) -> dict[str, Any]:
    return {"name": point.name, "wanted": point.wanted, "done": point.done, "off": point.off}


def _fill(sheet: WeighSheet) -> dict[str, Any]:
    found = sheet.fill
    assert found is not None  # noqa: S101 - asked by the caller
    edges = {"tolerable_error": found.error, "few_under": found.short, "none_under": found.never}
    return {
        "packs": found.packs,
        "unit": found.unit,
        "nominal": exact_text(found.nominal),
        "mean": exact_text(found.mean),
        "pack_kg": exact_text(found.pack_mass),
        **{name: None if value is None else exact_text(value) for name, value in edges.items()},
        "basis": sheet.fill_basis,
        "fillers": list(sheet.fillers),
    }
