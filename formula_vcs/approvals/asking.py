"""Which history is believed, and how a workspace's approvals are opened from a commit."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import NamedTuple

from formula_vcs.approvals.judging import Approvals
from formula_vcs.approvals.ledger import Ledger
from formula_vcs.git import repository
from formula_vcs.model.approval import ApprovalStanding, approval_rows, needed
from formula_vcs.model.formula import Formula


class BelievedBase(NamedTuple):
    """The commit whose history is believed, and what people call it."""

    commit: str
    called: str


def base_of(repo: repository.Repo, commit: str) -> BelievedBase:
    """Give the default branch as this clone knows it (origin's first); the commit itself where there is none."""
    ref, name = repository.default_ref(repo), repository.default_branch(repo)
    if ref is None or name is None:
        return BelievedBase(commit, "HEAD")
    return BelievedBase(repository.resolve(repo, ref), name)


def standing_of(repo: repository.Repo, folder: str, commit: str, formula: Formula) -> ApprovalStanding:
    """Say how a version stands, by what the base asks and what its own workspace.toml does: for a report or a document.

    ``commit`` is the id that it is asked from, ``folder`` the workspace's folder in the repository.
    """
    with opened(repo, folder, commit) as approvals:
        need = approvals.need(formula.recipe) | needed(approval_rows(formula.workspace.facts), formula.recipe)
        return approvals.standing(formula, need)


@contextmanager
def opened(repo: repository.Repo, folder: str, commit: str, base: BelievedBase | None = None) -> Iterator[Approvals]:
    """Open the approvals of a workspace as they are seen from a commit (its id), by the trust of a base."""
    believed = base or base_of(repo, commit)
    ledger = Ledger(repo, folder, believed.commit, believed.called)
    try:
        yield Approvals(ledger, commit)
    finally:
        ledger.close()
