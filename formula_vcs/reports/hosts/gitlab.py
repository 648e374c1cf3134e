"""Findings as a code quality report: a list of issues, as GitLab documents the format."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, TextIO

from formula_vcs.reports.document.data import dump
from formula_vcs.reports.hosts.remarks import Remark, path_text

# info, minor, major, critical and blocker are what the format knows
_SEVERITIES: Final = {"block": "blocker", "warn": "major", "note": "info"}


def write(found: Iterable[Remark], command: str, *, blocked: bool, out: TextIO) -> None:
    """Write all findings."""
    del command, blocked
    issues = [
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
    dump(issues, out)
