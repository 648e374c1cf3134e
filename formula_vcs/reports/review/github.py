"""What a change brings, as workflow commands: a runner shows each beside its line."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports import host_annotations
from formula_vcs.reports.check.github import commands
from formula_vcs.review.compare import Comparison


def write(comparison: Comparison, *, title: str, evidence: bool, blocked: bool, out: TextIO) -> None:
    """Write one command for each new finding, and for each that still blocks."""
    del title, evidence, blocked
    commands(host_annotations.of_review(comparison), out)
