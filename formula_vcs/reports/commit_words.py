"""A commit as reports name it: short id, day, author, subject, and the reason that its message gives."""

from __future__ import annotations

from typing import Final

from formula_vcs.git.commit_log import Commit
from formula_vcs.git.repository import short_id
from formula_vcs.history.blame import NOT_YET
from formula_vcs.reports.terminal import cut

_LONGEST: Final = 600  # columns of a subject or a reason
UNCOMMITTED: Final = "not committed yet"
SHALLOW: Final = "or earlier: this clone is shallow and ends there (git fetch --unshallow brings the rest)"


def name(commit: Commit) -> str:
    """Give the short id; a change that is not committed has none."""
    return "not yet" if commit.oid == NOT_YET else short_id(commit.oid)


def who(commit: Commit) -> str:
    """Name the author and who else made it."""
    if commit.oid == NOT_YET:
        return UNCOMMITTED
    return ", ".join((commit.author or commit.email or "nobody named", *commit.coauthors))


def told(commit: Commit) -> list[str]:
    """Give the subject and the reason of a commit, cut where somebody wrote a book."""
    reason = [f"Reason: {cut(commit.reason, _LONGEST)}"] if commit.reason else []
    return [cut(commit.subject, _LONGEST), *reason]
