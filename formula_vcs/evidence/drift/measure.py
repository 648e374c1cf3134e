"""Measure how far a formula has gone from a version that was tested."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterator
from typing import Final, NamedTuple

from formula_vcs.evidence.drift import (
    amount_drift,
    header_drift,
    label_drift,
    material_drift,
    preservation_drift,
    process_drift,
)
from formula_vcs.evidence.drift.drift import Conditions, Drift, DriftSides
from formula_vcs.model.formula import Formula


class _Part(NamedTuple):
    """A module: the classes of the table that it finds, and what of the conditions it hangs on."""

    classes: frozenset[str]
    drifts: Callable[[DriftSides], Iterator[Drift]]
    hangs_on: Callable[[Conditions], Hashable]


_PARTS: Final = (
    _Part(
        frozenset({"amount", "sum", "adjuster", "adjuster-kind", "added", "removed", "grade"}),
        amount_drift.drifts,
        lambda _: None,
    ),
    _Part(frozenset({"material", "supplier", "origin", "grade"}), material_drift.drifts, lambda _: None),
    _Part(frozenset({"water-activity", "alcohol"}), preservation_drift.drifts, lambda _: None),
    _Part(
        frozenset({"pH", "spec", "product", "name", "claims", "markets", "pack", "batch"}),
        header_drift.drifts,
        lambda conditions: conditions,
    ),
    _Part(
        frozenset({"label", "allergens"}), label_drift.drifts, lambda conditions: (conditions.day, conditions.market)
    ),
    _Part(
        frozenset({"shear", "mixer", "mixer-kind", "range", "temperature", "order", "step"}),
        process_drift.drifts,
        lambda _: None,
    ),
)
_Kept = dict[tuple[int, Hashable], tuple[Drift, ...]]


def measure(old: Formula, new: Formula, conditions: Conditions, classes: Collection[str] = ()) -> tuple[Drift, ...]:
    """Give all that moved from one formula to another; with ``classes``, only what can be of one of them."""
    kept = _kept(old, new)
    found: list[Drift] = []
    for number, part in enumerate(_PARTS):
        if classes and part.classes.isdisjoint(classes):
            continue
        key = number, part.hangs_on(conditions)
        if key not in kept:
            kept[key] = tuple(part.drifts(DriftSides(old, new, conditions)))
        found += kept[key]
    return tuple(found)


def _kept(old: Formula, new: Formula) -> _Kept:
    """Give what was measured between two formulas: many proofs are of one version, and a formula never changes."""
    versions: dict[int, tuple[Formula, _Kept]] = new.derived.cached("drifts", dict)
    # the older formula is kept with it, so that its identity stays its own
    return versions.setdefault(id(old), (old, {}))[1]
