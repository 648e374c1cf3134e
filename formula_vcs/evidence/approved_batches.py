"""Whether the version of each batch was approved when it was made."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Final

from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.model.approval import Needed, approval_rows, needed
from formula_vcs.model.batch import Batch
from formula_vcs.model.finding import Finding
from formula_vcs.rules.records.batch_version import BatchApproved
from formula_vcs.rules.rule import Pins, RecordCase
from formula_vcs.workspace.snapshot import Snapshot

_RULE: Final = BatchApproved()


def wants_approvals(snapshot: Snapshot) -> bool:
    """Say whether a workspace knows approvals at all; one that does not, costs nothing."""
    return bool(snapshot.ids("approvals")) or bool(approval_rows(snapshot.workspace.facts))


def approvals_of_batches(
    snapshot: Snapshot, repo: repository.Repo, pins: Pins, day: datetime.date
) -> Iterator[Finding]:
    """Judge every batch by what was approved at its place in the history of the base."""
    from formula_vcs.approvals import asking
    from formula_vcs.approvals.ledger import NEVER

    commit: str = getattr(snapshot.source, "commit", "")
    try:
        commit = commit or repository.resolve(repo, "HEAD")
    except UserError:  # nothing is committed yet
        return
    with asking.opened(repo, snapshot.source.folder(), commit) as approvals:
        own = approval_rows(snapshot.workspace.facts)
        for name, path in snapshot.ids("batches").items():
            record = snapshot.record("batches", name)
            batch = None if record is None else Batch(name, record.facts, path)
            if record is None or batch is None or batch.commit is None or batch.recipe is None:
                continue
            formula = pins.at(batch.commit, batch.recipe).formula
            if formula is None:  # another rule says so
                continue
            place = approvals.ledger.batch_at(path, (batch.recipe, batch.commit, batch.hash))
            need = approvals.need(formula.recipe, NEVER if place is None else place)
            need |= needed(own, formula.recipe) if place is None else Needed()
            if not need.roles:
                continue
            after = NEVER if place is None else place + 1
            standing = approvals.standing(formula, need, position=after, law=False)
            then = approvals.standing(formula, need, position=after, law=False, then=True)
            yield from _RULE.judged(RecordCase(record, snapshot, pins, day), standing, then)
