"""A batch's own lines as data, the same in every report."""

from __future__ import annotations

from typing import Annotated

from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.data import SchemaRule
from formula_vcs.trace.batch_context import BatchContext
from formula_vcs.trace.target_batch import is_aim


@dataclass(frozen=True, slots=True)
class BatchRecord:
    """A batch, or what the recipe asks in place of one."""

    batch: Annotated[str | None, SchemaRule("Its id; null for what the recipe asks")]
    recipe: str | None
    title: str | None
    date: str | None
    size: str | None
    made: str | None
    packs: int | None
    commit: str | None
    hash: str | None
    version: Annotated[
        str,
        SchemaRule(one_of=("found", "not named", "no-git", "unknown", "shallow", "no-recipe", "unreadable")),
    ]
    made_by: str | None
    closed: str | None


def batch_record(side: BatchContext) -> BatchRecord:
    """Give a batch's own lines."""
    found = side.batch
    date, size, made, closed = (
        None if value is None else str(value) for value in (found.date, found.size, found.made, found.closed)
    )
    title = None if side.formula is None else side.formula.recipe.title
    return BatchRecord(
        None if is_aim(found.id) else found.id, found.recipe, title,
        date, size, made, found.packs, found.commit, found.hash,
        "found" if side.formula is not None else "not named" if side.pinned is None else side.pinned.state,
        found.made_by, closed,
    )  # fmt: skip
