"""What a change brings, as test cases in the JUnit format."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports import host_annotations
from formula_vcs.reports.check.junit import suite
from formula_vcs.review.compare import Comparison


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write the new findings, and those that still block."""
    del title, evidence
    suite(host_annotations.of_review(comparison), "review", blocked=blocked, out=out)
