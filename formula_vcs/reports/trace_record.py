"""A trace as JSON by the schema trace.json."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from formula_vcs.git.commit_log import Commit
from formula_vcs.model.quantity import Range
from formula_vcs.reports import trace_words
from formula_vcs.reports.batch_record import batch_record
from formula_vcs.trace.compare_measurements import MeasuredPair, RangePlace
from formula_vcs.trace.difference import Difference
from formula_vcs.trace.explain import Candidate, Explained
from formula_vcs.trace.lot_mixture import LotShare
from formula_vcs.trace.lots_part import CertificateRow, LotRow
from formula_vcs.trace.recipe_part import RecipePart
from formula_vcs.trace.result_rows import ResultRow
from formula_vcs.trace.step_rows import StepValue
from formula_vcs.trace.target_batch import is_aim
from formula_vcs.trace.trace import MakingPart, Trace
from formula_vcs.trace.weighed_rows import WeighedCharge
from formula_vcs.words.numbers import exact_text


def data(trace: Trace) -> dict[str, Any]:
    """Give a trace, and inside its lots those of premix batches."""
    return {
        "kind": "recipe" if trace.aim else "pair",
        "old": batch_record(trace.old),
        "new": batch_record(trace.new),
        "results": [_result(row) for row in trace.results],
        "recipe": _recipe(trace.recipe),
        "making": _making(trace.making),
        "lots": [_lot(row) for row in trace.lots],
        "differences": [_difference(item) for item in trace.differences],
        "explained": [_explained(one) for one in trace.explained],
        "uncovered": [item.id for item in trace.uncovered],
        "put_aside": trace.put_aside,
        "missing": list(trace.missing),
        "flags": list(trace.flags),
    }


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def number(value: Fraction | None) -> str | None:
    """Give an exact number, or null."""
    return None if value is None else exact_text(value)


def _pair(found: MeasuredPair) -> dict[str, Any]:
    return {
        "old": _text(found.old),
        "new": _text(found.new),
        "unit": found.unit,
        "difference": number(found.difference),
        "way": found.way,
        "state": "slip" if found.slip else found.state,
    }


def _against(row: ResultRow | CertificateRow) -> dict[str, Any]:
    return {
        "spec": _text(row.spec),
        "widths": number(row.widths),
        "before": _verdict(row.before),
        "after": _verdict(row.after),
    }


def _verdict(place: RangePlace) -> str | None:
    return place.verdict or None


def _result(row: ResultRow) -> dict[str, Any]:
    return {"name": row.name, **_pair(row.pair), **_against(row), "spec_before": _text(row.spec_before)}


def _recipe(part: RecipePart) -> dict[str, Any]:
    return {
        "state": part.state,
        "why": part.why,
        "changes": [
            {
                "id": item.change.id,
                "kind": item.change.kind,
                "where": item.change.where,
                "old": item.change.old,
                "new": item.change.new,
                "text": item.change.text,
                "commits": [commit(one) for one in item.by],
                "undone": item.undone,
            }
            for item in part.changes
        ],
        "aside": dict(part.aside),
    }


def commit(found: Commit) -> dict[str, Any]:
    """Give a commit."""
    return {
        "commit": found.oid,
        "author": found.author,
        "date": found.date,
        "subject": found.subject,
        "reason": found.reason,
    }


def _making(part: MakingPart) -> dict[str, Any]:
    return {
        "charges": [
            {"charge": row.key, "ingredient": row.ingredient, "old": _weighing(row.old), "new": _weighing(row.new)}
            for row in part.charges
        ],
        "steps": [_step(row) for row in part.steps],
        "only_in_one": [{"step": step, "in": "new" if newer else "old"} for step, newer in part.lone],
        "order": list(part.order),
        "pauses": [
            {"before": item.before, "old": number(item.old), "new": number(item.new), "unit": "min"}
            for item in part.pauses
        ],
        "lived": [
            {
                "charges": list(item.charges),
                "values": [
                    {"name": name, "unit": unit, "old": round(old, 6), "new": round(new, 6)}
                    for name, unit, old, new in item.values
                ],
            }
            for item in part.lived
        ],
        "people": list(part.people),
        "equipment": [list(names) for names in part.equipment],
        "yield": [_text(value) for value in part.yields],
    }


def _weighing(side: WeighedCharge | None) -> dict[str, Any] | None:
    if side is None:
        return None
    return {
        "asked_pct": number(side.asked),
        "target_kg": number(side.target),
        "weighed_kg": number(side.weighed),
        "deviation": number(side.deviation),
        "tolerance": number(side.tolerance) if side.tolerance else None,
        "outside": side.outside,
        "slip": side.slip,
    }


def _step(row: StepValue) -> dict[str, Any]:
    return {
        "step": row.step,
        "value": row.name,
        "asked": list(map(_value, row.asked)),
        "done": list(map(_value, row.done)),
    }


def _value(value: Range | str | None) -> str | None:
    return _text(value)


def _lot(row: LotRow) -> dict[str, Any]:
    return {
        "charge": row.key,
        "ingredient": row.ingredient,
        "old": [name for name in row.old if not is_aim(name)],
        "new": list(row.new),
        "shares": [{lot: number(share) for lot, share in side.items() if not is_aim(lot)} for side in row.shares],
        "state": row.state,
        "certificates": [
            {"name": item.name, **_pair(item.pair), **_against(item), "lots": [_portions(side) for side in item.parts]}
            for item in row.certificates
        ],
        "inner": None if row.inner is None else data(row.inner),
        "inner_share": None if row.inner is None else number(row.weight),
        "notes": [*row.notes, *(f"nothing is on file of lot '{lot}'" for lot in row.unknown)],
    }


def _portions(side: tuple[LotShare, ...]) -> list[dict[str, Any]]:
    return [{"lot": one.lot, "value": _text(one.value)} for one in side if not is_aim(one.lot)]


def _difference(item: Difference) -> dict[str, Any]:
    return {
        "id": item.id,
        "part": item.part,
        "via": list(item.via),
        "what": item.what,
        "about": item.about,
        "name": item.name,
        "old": item.old,
        "new": item.new,
        "way": item.way,
        "size": number(item.size),
        "of": item.of,
        "evidence": item.grade,
        "weight": round(item.weight, 6),
        "text": trace_words.difference_words(item),
        "commits": [one.oid for one in item.by],
        "notes": list(item.notes),
    }


def _explained(one: Explained) -> dict[str, Any]:
    return {
        "result": one.result,
        "way": one.way,
        "symptom": None if one.symptom is None else one.symptom.name,
        "told_by": one.told or None,
        "important": one.important,
        "verdict": trace_words.verdict(one),
        "fits": _candidates(one.fits),
        "either_way": _candidates(one.open_),
        "other_way": _candidates(one.against),
    }


def _candidates(found: Iterable[Candidate]) -> list[dict[str, Any]]:
    return [
        {
            "difference": candidate.difference.id,
            "seen_in": [item.id for item in candidate.seen],
            "causes": [
                {"id": cause.id, "kind": cause.kind, "effect": cause.effect, "why": cause.why, "source": cause.cited}
                for cause in candidate.causes
            ],
        }
        for candidate in found
    ]
