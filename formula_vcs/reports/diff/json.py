"""A comparison as JSON, by the schema diff.json."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any, TextIO

from formula_vcs.diff.change import Change
from formula_vcs.diff.effects import Effect, Share
from formula_vcs.diff.label_order import LabelMove
from formula_vcs.evidence.coverage import Coverage
from formula_vcs.evidence.duties import Duty
from formula_vcs.law.labelling import printed
from formula_vcs.model.finding import Finding
from formula_vcs.reports import review_document, review_extras
from formula_vcs.reports.document.data import as_data as record_data
from formula_vcs.reports.document.data import dump
from formula_vcs.reports.findings import finding_record
from formula_vcs.review.compare import ChosenChanges, Comparison, NewFinding, Review
from formula_vcs.review.grade_swaps import Swap
from formula_vcs.review.looking_ahead import Deadline
from formula_vcs.review.substance_moves import RoleChange, SubstanceMove
from formula_vcs.words.numbers import exact_text


def write(comparison: Comparison, *, title: str, out: TextIO) -> None:
    """Write all of a comparison."""
    dump(data(comparison, title, blocked=bool(review_document.blocked_by(comparison))), out)


def data(comparison: Comparison, title: str, *, blocked: bool) -> dict[str, Any]:
    """Give a comparison as the schema has it."""
    return {
        "title": title,
        "old": comparison.old,
        "new": comparison.new,
        "guard": [
            {
                "kind": item.kind,
                "change": item.change or None,
                "recipes": list(item.recipes),
                "finding": finding_record(finding),
                "hides": [finding_record(hidden) for hidden in item.hides],
            }
            for finding, item in review_extras.loosened(comparison)
        ],
        "accepted": [finding_record(finding) for finding in review_extras.accepted(comparison)],
        "recipes": [_review(review) for review in comparison.reviews],
        "beside": [_change(change) for change in comparison.beside],
        "same": comparison.same,
        "blocked": blocked,
        "part": None if comparison.part is None else _part(comparison.part),
        "not_judged": list(comparison.not_judged),
    }


def _part(part: ChosenChanges) -> dict[str, list[dict[str, str]]]:
    sides = {"taken": part.taken, "left": part.left}
    return {name: [{"recipe": recipe, "change": change} for recipe, change in side] for name, side in sides.items()}


def _review(review: Review) -> dict[str, Any]:
    return {
        "recipe": review.recipe,
        "title": review.title,
        "status": review.status,
        "file": review.file,
        "changes": [_change(change) for change in review.changes],
        "effects": [_effect(effect) | {"listed": review.listed.get(effect.figure, "")} for effect in review.effects],
        "label": [_label(move) for move in review.label],
        "substances": [_substance(move) for move in review.substances],
        "swaps": [_swap(swap) for swap in review.swaps],
        "roles": [_role(role) for role in review.roles],
        "findings": {
            "new": [_new(item) for item in review.new],
            "gone": [_gone(finding, cure) for finding, cure in review_document.cured(review)],
            "still": [finding_record(finding) for finding in review.still],
            "ahead": [_deadline(item) for item in review.ahead],
        },
        "lists": [
            {"market": market, "printed": printed(lines), "names": [line.inci for line in lines]}
            for market, lines in review.lists
        ],
        "duties": [_duty(duty) for duty in review.duties],
        "proofs": [proof(one) for one in review.proofs],
        "unrecorded": list(review.unrecorded),
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
        "shares": _shares(effect.shares),
        "grouped": bool(effect.evened),
        "estimate": effect.before.estimate or effect.after.estimate,
        "missing": {"before": list(effect.before.missing), "after": list(effect.after.missing)},
    }


def _shares(shares: Sequence[Share]) -> list[dict[str, str]]:
    return [{"change": share.change, "value": exact_text(share.value)} for share in shares]


def _label(move: LabelMove) -> dict[str, Any]:
    return {
        "name": move.name,
        "market": move.market,
        "before": move.before,
        "after": move.after,
        "part": move.part,
        "only_free": move.only_free,
        "causes": list(move.causes or ()),
        "untried": move.causes is None,
        "shares": _shares(move.shares),
        "grouped": bool(move.evened),
    }


def _substance(move: SubstanceMove) -> dict[str, Any]:
    return {
        "inci": move.name,
        "cas": move.cas or None,
        "kinds": list(move.kinds),
        "before": exact_text(move.before),
        "after": exact_text(move.after),
        "difference": exact_text(move.difference),
    }


def _swap(swap: Swap) -> dict[str, Any]:
    return {
        "change": swap.change,
        "old": swap.old,
        "new": swap.new,
        "differences": [
            {"topic": one.topic, "what": one.what, "old": one.old, "new": one.new, "lost": one.lost}
            for one in swap.differences
        ],
    }


def _role(role: RoleChange) -> dict[str, Any]:
    return {
        "role": role.role,
        "before": exact_text(role.before),
        "after": exact_text(role.after),
        "empty": role.empty,
        "holders": [
            {"inci": name, "ingredient": material, "pct": exact_text(pct)} for name, material, pct in role.holders
        ],
        "needs": list(role.needs),
        "severity": role.severity,
        "says": role.says,
        "causes": list(role.causes or ()),
        "untried": role.causes is None,
    }


def _number(value: Fraction | None) -> str | None:
    return None if value is None else exact_text(value)


def _gone(finding: Finding, cure: tuple[str, ...] | None) -> dict[str, Any]:
    return {**record_data(finding_record(finding)), "cured_by": list(cure or ()), "untried": cure is None}


def _deadline(item: Deadline) -> dict[str, Any]:
    return {
        "from": item.day.isoformat(),
        "sold_until": None if item.sold is None else item.sold.isoformat(),
        "raised": item.raised,
        "finding": finding_record(item.finding),
        "causes": list(item.causes or ()),
        "untried": item.causes is None,
    }


def _new(item: NewFinding) -> dict[str, Any]:
    return {
        **record_data(finding_record(item.finding)),
        "causes": list(item.causes or ()),
        "untried": item.causes is None,
    }


def proof(coverage: Coverage) -> dict[str, Any]:
    """Give what a proof is worth."""
    of = coverage.proof
    return {
        "kind": of.kind,
        "what": of.what,
        "report": of.report,
        "file": of.file,
        "number": of.number,
        "commit": coverage.commit or of.commit,
        "hash": of.hash,
        "passed": of.passed.isoformat(),
        "until": None if of.until is None else of.until.isoformat(),
        "state": coverage.state,
        "why": coverage.why or "; ".join(crossing.text for crossing in coverage.crossings),
        "crossings": [
            {
                "class": crossing.drift.when,
                "about": crossing.drift.about,
                "text": crossing.text,
                "row": crossing.line.id,
                "source": crossing.line.source,
            }
            for crossing in coverage.crossings
        ],
    }


def _duty(duty: Duty) -> dict[str, Any]:
    return {
        "duty": duty.duty,
        "owner": duty.owner,
        "because": list(duty.because),
        "evidence": duty.evidence,
        "source": duty.source,
        "kind": duty.kind,
        "must": duty.must,
        "size": duty.size,
        "standing": duty.standing,
    }
