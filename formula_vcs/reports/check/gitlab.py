"""Findings as a code quality report: a list of issues, as GitLab documents the format."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final, TextIO

from formula_vcs.model.finding import Finding
from formula_vcs.reports import host_annotations
from formula_vcs.reports.check.json import dump
from formula_vcs.reports.host_annotations import Remark, path_text

# info, minor, major, critical and blocker are what the format knows
_SEVERITIES: Final = {"block": "blocker", "warn": "major", "note": "info"}


def write(findings: list[Finding], *, blocked: bool, recipes: int, out: TextIO) -> None:
    """Write all findings."""
    del blocked, recipes
    dump(issues(host_annotations.of_check(findings)), out)


def issues(found: Iterable[Remark]) -> list[dict[str, Any]]:
    """Give remarks as the format has them."""
    return [
        {
            "type": "issue",
            "description": item.text,
            "check_name": item.rule,
            "fingerprint": item.fingerprint,
            "severity": _SEVERITIES[item.severity],
            "location": {"path": path_text(item.path), "lines": {"begin": item.line}},
        }
        for item in found
    ]
