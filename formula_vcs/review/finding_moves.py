"""Findings of two versions sorted into what came, what went and what stayed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from formula_vcs.model.finding import SEVERITIES, Finding

_NEVER: Final = len(SEVERITIES)


class FindingMoves(NamedTuple):
    """What is new, what is gone as it was, and what is still there as it is."""

    fresh: list[Finding]
    gone: list[Finding]
    still: list[Finding]


def sorted_out(before: Sequence[Finding], after: Sequence[Finding]) -> FindingMoves:
    """Sort findings into new, gone and still there.

    One that got worse is new.  One that is less bad now, or was accepted, is gone as it was and still there as it is.
    """
    was, now = _worst(before), _worst(after)
    fresh = [finding for finding in after if _rank(finding) < was.get(finding.fingerprint, _NEVER)]
    still = [finding for finding in after if _rank(finding) >= was.get(finding.fingerprint, _NEVER)]
    gone = [finding for finding in before if _rank(finding) < now.get(finding.fingerprint, _NEVER)]
    return FindingMoves(fresh, gone, still)


def _rank(finding: Finding) -> int:
    return SEVERITIES.index(finding.severity)


def _worst(findings: Iterable[Finding]) -> dict[str, int]:
    """Give the worst severity of each finding."""
    found: dict[str, int] = {}
    for finding in findings:
        found[finding.fingerprint] = min(_rank(finding), found.get(finding.fingerprint, _NEVER))
    return found
