"""A comparison as JSON, by the schema diff.json."""

from __future__ import annotations

from fractions import Fraction
from typing import Any, TextIO

from formula_vcs.changes.change import Change
from formula_vcs.changes.compare import Comparison, Duty, NewFinding, Review
from formula_vcs.changes.effects import Effect
from formula_vcs.model.numbers import exact_text
from formula_vcs.reports import outline
from formula_vcs.reports.check_json import as_data, dump


def write(comparison: Comparison, *, title: str, out: TextIO) -> None:
    """Write all of a comparison."""
    dump(data(comparison, title, blocked=bool(outline.verdict(comparison.reviews))), out)


def data(comparison: Comparison, title: str, *, blocked: bool) -> dict[str, Any]:
    """Give a comparison as the schema has it."""
    return {
        "title": title,
        "old": comparison.old,
        "new": comparison.new,
        "recipes": [_review(review) for review in comparison.reviews],
        "beside": [_change(change) for change in comparison.beside],
        "same": comparison.same,
        "blocked": blocked,
    }


def _review(review: Review) -> dict[str, Any]:
    return {
        "recipe": review.recipe,
        "title": review.title,
        "status": review.status,
        "file": review.file,
        "changes": [_change(change) for change in review.changes],
        "effects": [_effect(effect) for effect in review.effects],
        "findings": {
            "new": [_new(item) for item in review.new],
            "gone": [as_data(finding) for finding in review.gone],
            "still": [as_data(finding) for finding in review.still],
        },
        "duties": [_duty(duty) for duty in review.duties],
        "blocked": review.blocked,
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "id": change.id,
        "kind": change.kind,
        "where": change.where,
        "old": change.old,
        "new": change.new,
        "text": change.text,
        "derived": change.derived,
    }


def _effect(effect: Effect) -> dict[str, Any]:
    return {
        "figure": effect.figure,
        "unit": effect.after.unit,
        "before": _number(effect.before.value),
        "after": _number(effect.after.value),
        "difference": _number(effect.difference),
        "shares": [{"change": share.change, "value": exact_text(share.value)} for share in effect.shares],
        "grouped": effect.grouped,
        "estimate": effect.before.estimate or effect.after.estimate,
        "missing": {"before": list(effect.before.missing), "after": list(effect.after.missing)},
    }


def _number(value: Fraction | None) -> str | None:
    return None if value is None else exact_text(value)


def _new(item: NewFinding) -> dict[str, Any]:
    return {**as_data(item.finding), "causes": list(item.causes)}


def _duty(duty: Duty) -> dict[str, Any]:
    return {
        "duty": duty.duty,
        "owner": duty.owner,
        "because": list(duty.because),
        "evidence": duty.evidence,
        "source": duty.source,
    }
