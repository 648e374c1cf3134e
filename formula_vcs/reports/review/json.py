"""A review as JSON, by the schema diff.json: a diff holds all four parts already."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports.diff.json import record_of
from formula_vcs.reports.document.data import dump
from formula_vcs.review.compare import Comparison


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write all of a review."""
    del evidence
    dump(record_of(comparison, title, blocked=blocked), out)
