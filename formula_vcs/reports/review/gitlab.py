"""What a change brings, as a code quality report."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.changes.compare import Comparison
from formula_vcs.reports import remarks
from formula_vcs.reports.check.gitlab import issues
from formula_vcs.reports.check.json import dump


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the new findings, and those that still block."""
    del title, evidence, blocked
    dump(issues(remarks.of_review(comparison)), out)
