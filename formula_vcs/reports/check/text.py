"""Findings for a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TextIO

from formula_vcs.law.not_judged import not_judged_words
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.reports.terminal import Ink
from formula_vcs.rules.accepted import accept_lines
from formula_vcs.words.escape import terminal

CAUTION = "A passing check is arithmetic: the safety assessor, the responsible person and local law decide."
RESTS = "Findings that cite [memory], [commentary] or [data export] rest on rows whose source was not read itself."


def write(
    findings: list[Finding],
    *,
    blocked: bool,
    recipes: int | None,
    out: TextIO,
    how: bool = False,
    not_judged: Sequence[str] = (),
) -> None:
    """Write one finding after the other, then the count and the verdict; ``recipes`` is None for a record.

    ``not_judged`` names markets and fields of law that nobody here judges.  With ``how``, the lines that accept it
    stand below each finding that can be accepted.
    """
    ink = Ink(out)
    for finding in findings:
        place(ink, finding)
        for line in (accept_lines(finding) or "").splitlines() if how else ():
            # not folded: it is there to be copied
            ink.line(f"        {terminal(line)}")
    if findings:
        ink.line()
    counts = Counter(finding.severity for finding in findings)
    parts = [f"{counts[severity]} {severity}" for severity in SEVERITIES if counts[severity]]
    verdict = ink.paint("blocked", "block") if blocked else "nothing blocks"
    ink.line(f"{_count(recipes)}: {', '.join(parts) or 'no findings'}; {verdict}")
    if rests(findings):
        ink.wrapped(RESTS)
    if not_judged:
        ink.wrapped(not_judged_words(not_judged))
    if not blocked:
        ink.wrapped(CAUTION)


def rests(findings: list[Finding]) -> bool:
    """Say whether a finding rests on a row that was not checked against the published text."""
    return any(finding.source.endswith(("[memory]", "[commentary]", "[data export]")) for finding in findings)


def place(ink: Ink, finding: Finding, indent: str = "") -> None:
    """Write one finding: where, how bad, which rule, and the words below."""
    spot = f"{terminal(finding.path)}:{finding.line}:{finding.column}"
    ink.line(f"{indent}{spot}: {ink.paint(finding.severity, finding.severity)} [{finding.rule}]")
    ink.wrapped(finding.message, f"{indent}    ")
    if finding.mend is not None:
        ink.wrapped(finding.mend.said, f"{indent}    ")


def _count(recipes: int | None) -> str:
    if recipes is None:
        return "the record"
    return "1 recipe" if recipes == 1 else f"{recipes} recipes"
