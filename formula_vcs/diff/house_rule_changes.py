"""Which recipes a changed rule of the house touches: those that hold what its row is about."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from formula_vcs.diff.change import Change
from formula_vcs.figures.breakdown import sums_of
from formula_vcs.law.compliance import Compliance
from formula_vcs.model.formula import Formula

RULE: Final = "rule/"


def touching(old: Formula, new: Formula, changes: Sequence[Change]) -> tuple[Change, ...]:
    """Leave out the changes of house rules that say nothing of the recipe in either version."""
    if not any(change.where.startswith(RULE) for change in changes):
        return tuple(changes)
    rows = {*_rows(old), *_rows(new)}
    return tuple(
        change
        for change in changes
        if not change.where.startswith(RULE) or any(f"{change.where}/".startswith(row) for row in rows)
    )


def _rows(formula: Formula) -> set[str]:
    """Give the places of the house rows that are about this recipe."""
    if formula.recipe.is_premix:
        return set()
    found = Compliance(formula, sums_of(formula))
    return {f"{RULE}{hit.row.pack}/rule/{hit.row.id}/" for hit in found.hits if hit.row.file}
