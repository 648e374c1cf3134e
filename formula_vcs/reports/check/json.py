"""Findings as JSON, by the schema check.json."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, TextIO

from formula_vcs.model.facts import spelled
from formula_vcs.model.finding import Finding
from formula_vcs.rules.accepted import accept_lines


def as_data(finding: Finding) -> dict[str, Any]:
    """Give one finding as the schema has it."""
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "recipe": finding.recipe,
        "file": finding.path,
        "line": finding.line,
        "column": finding.column,
        "message": finding.message,
        "source": finding.source,
        "fingerprint": finding.fingerprint,
        "accept": accept_lines(finding),
        "mend": None if finding.mend is None else {**asdict(finding.mend), "path": spelled(finding.mend.path)},
    }


def write(findings: list[Finding], *, blocked: bool, recipes: int, out: TextIO, not_judged: Sequence[str] = ()) -> None:
    """Write all findings, and what nobody here judges."""
    del recipes
    found = [as_data(finding) for finding in findings]
    dump({"findings": found, "blocked": blocked, "not_judged": list(not_judged)}, out)


def dump(data: object, out: TextIO) -> None:
    """Write JSON that any terminal and any encoding survive."""
    json.dump(data, out, indent=2, ensure_ascii=True)
    out.write("\n")
