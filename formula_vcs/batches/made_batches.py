"""Batches that are there already: the recipe each was made from, its premixes, and the records beside it."""

from __future__ import annotations

from collections.abc import Callable

from formula_vcs.errors import UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.model.formula import Formula
from formula_vcs.model.lot import Lot
from formula_vcs.rules.rule import LOST
from formula_vcs.workspace.snapshot import Snapshot


def pinned_formula(pins: PinnedVersions, batch: Batch) -> Formula:
    """The recipe that a batch was made from.

    :raises UserError: it is not to be had, or the file does not say which.
    """
    if batch.recipe is None or batch.commit is None:
        raise UserError(f"batch '{batch.id}' does not say which recipe, at which commit, it was made from")
    pinned = pins.at(batch.commit, batch.recipe)
    if pinned.formula is None:
        why = LOST[pinned.state]
        raise UserError(f"batch '{batch.id}' is of '{batch.recipe}' at commit {batch.commit[:12]}: {why}")
    return pinned.formula


def own_premixes(here: Snapshot, batch: Batch) -> list[Batch]:
    """The batches of premixes that were made along with a batch: their ids begin with its own."""
    premixes: dict[str, Batch] = {}
    waiting = [batch]
    while waiting:
        for lot in waiting.pop().lots:
            record = here.record("batches", lot) if lot.startswith(f"{batch.id}-") and lot not in premixes else None
            if record is not None:
                premixes[lot] = Batch(lot, record.facts, record.file)
                waiting.append(premixes[lot])
    return list(premixes.values())


def records_of(here: Snapshot) -> tuple[Callable[[str], Lot | None], Callable[[str], Batch | None]]:
    """How a lot, and how a batch, is read by its id; None where there is no such record."""

    def lot(name: str) -> Lot | None:
        record = here.record("lots", name)
        return None if record is None else Lot(name, record.facts, record.file)

    def made(name: str) -> Batch | None:
        record = here.record("batches", name)
        return None if record is None else Batch(name, record.facts, record.file)

    return lot, made
