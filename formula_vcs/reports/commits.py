"""A commit as data, the same in every report."""

from __future__ import annotations

from typing import Annotated

from formula_vcs.git.commit_log import Commit
from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.data import CommitId, SchemaRule


@dataclass(frozen=True, slots=True)
class CommitRecord:
    """A commit, with the reason that its message gives."""

    id: CommitId
    author: str
    co_authors: tuple[str, ...]
    date: Annotated[str, SchemaRule("The author's, ISO 8601 with the zone")]
    subject: str
    reason: str | None


def commit_record(commit: Commit) -> CommitRecord:
    """Give a commit that was made."""
    return CommitRecord(
        commit.oid, commit.author, tuple(commit.coauthors), commit.date, commit.subject, commit.reason
    )  # fmt: skip
