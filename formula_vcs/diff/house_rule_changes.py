"""Which recipes a changed rule or pair of the house touches: those that hold what its row is about."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from formula_vcs.chemistry.house_pairs import house_pairs
from formula_vcs.chemistry.pair_rows import shipped
from formula_vcs.diff.change import Change
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.substance_parts import parts_of
from formula_vcs.law.compliance import compliance_of
from formula_vcs.law.duty_table import KIND, house_duties, house_kinds
from formula_vcs.model.facts import spelled
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
    found = compliance_of(breakdown_of(formula))
    hits = {f"{RULE}{hit.row.pack}/rule/{hit.row.id}/" for hit in found.hits if hit.row.file}
    return hits | set(_pairs(formula)) | set(_duties(formula))


def _duties(formula: Formula) -> Iterator[str]:
    """Give the places of the house's rows about kinds of evidence of which this recipe has a proof on record."""
    rows, kinds = house_duties(formula.workspace), house_kinds(formula.workspace)
    recorded = {proof.kind for proof in formula.shelf.proofs(formula.recipe.id)} if rows or kinds else set()
    for path in (*(path for path, named in rows.items() if recorded & set(named)), *kinds):
        if path[2] != KIND or path[3] in recorded:
            yield f"{RULE}{spelled(path[1:])}/"


def _pairs(formula: Formula) -> Iterator[str]:
    """Give the places of the house's pairs both of whose sides are in this recipe."""
    own = house_pairs(formula.workspace)
    if not own:
        return
    tags = parts_of(breakdown_of(formula)).tags
    known = {pair.id: pair for pair in (*own, *shipped()) if not pair.off}
    for row in own:
        pair = known.get(row.id, row)
        sides = [side for side in (pair.one, pair.other) if side is not None]
        if all(not side.tags.isdisjoint(tags) for side in sides):
            yield f"{RULE}{row.file.removeprefix('rules/').removesuffix('.toml')}/pair/{row.id}/"
