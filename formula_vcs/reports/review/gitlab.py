"""What a change brings, as a code quality report."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports import host_annotations
from formula_vcs.reports.check.gitlab import issues
from formula_vcs.reports.check.json import dump
from formula_vcs.review.compare import Comparison


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the new findings, and those that still block."""
    del title, evidence, blocked
    dump(issues(host_annotations.of_review(comparison)), out)
