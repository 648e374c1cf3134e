"""The evidence of a recipe as data, beside its sheet."""

from __future__ import annotations

from typing import Any

from formula_vcs.reports.diff.json import proof
from formula_vcs.reports.evidence_sheet import EvidenceSheet
from formula_vcs.reports.findings import finding_record


def evidence(sheet: EvidenceSheet) -> dict[str, Any]:
    """Give the evidence as the schema of show has it."""
    return {
        "day": sheet.day.isoformat(),
        "commit": sheet.commit or None,
        "hash": sheet.hash,
        "lacking": sheet.lacking,
        "block": "\n".join(sheet.block),
        "files": list(sheet.files),
        "proofs": [proof(one) for one in sheet.proofs],
        "findings": [finding_record(finding) for finding in sheet.findings],
    }
