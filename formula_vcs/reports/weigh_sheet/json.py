"""Weigh sheets as JSON, by the schema weigh-sheet.json."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TextIO

from formula_vcs.batches.weigh_sheet import CAUTION, WeighSheet
from formula_vcs.reports.check.json import dump
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
        "lines": [
            {
                "phase": line.phase, "charge": line.key, "title": line.title, "target": line.target,
                "allowed": line.allowed, "allowed_by": line.why_allowed, "balance": line.balance, "lot": line.lot,
                "weighed": line.weighed, "part": line.part, "kept": line.kept, "premix": line.premix,
                "second_check": line.second, "hazards": list(line.hazards),
            }
            for line in sheet.lines
        ],
        "steps": [
            {
                "step": step.id, "vessel": step.vessel, "add": list(step.adds), "from": list(step.joins),
                "target": dict(step.values), "scaled": step.remark, "measure": step.measure, "accept": step.accept,
                "adjust": list(step.adjust), "note": step.note, "second_check": step.second, "done": dict(step.done),
            }
            for step in sheet.steps
        ],
        "spec": dict(sheet.spec),
        "results": dict(sheet.results),
        "hazards": [{"code": found.code, "says": found.says, "of": list(found.of)} for found in sheet.hazards],
        "wear": list(sheet.wear),
        "cautions": list(sheet.cautions),
        "fill": None if sheet.fill is None else _fill(sheet),
    }  # fmt: skip


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
