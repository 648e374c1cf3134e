"""The evidence of a recipe for a terminal."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.law import duty_table
from formula_vcs.reports import duty_words
from formula_vcs.reports.document.blocks import FindingLine
from formula_vcs.reports.document.text import write_blocks
from formula_vcs.reports.evidence import sheet as evidence_sheet
from formula_vcs.reports.evidence.sheet import EvidenceSheet
from formula_vcs.reports.terminal import Ink
from formula_vcs.words.escape import terminal


def write(sheet: EvidenceSheet, *, out: TextIO) -> None:
    """Write what each proof is worth and why, what is wrong with the files, and how to record a new proof."""
    ink = Ink(out)
    ink.wrapped(f"{sheet.title} ({sheet.recipe}): evidence on {sheet.day}", style="strong")
    ink.line()
    for one in sheet.proofs:
        ink.wrapped(f"{duty_words.named(one)}: {evidence_sheet.said(one, sheet.day)}", "  ")
        ink.wrapped(evidence_sheet.about(one), "      ")
        for words in evidence_sheet.crossed(one):
            ink.wrapped(words, "      - ", " " * 8)
    if not sheet.proofs:
        ink.line("  No evidence is recorded of it.")
    ink.line()
    if any(one.crossings for one in sheet.proofs):
        ink.wrapped(f"Measured from the version that each proof is about; {duty_table.note()}.", "  ")
        ink.line()
    for finding in sheet.findings:
        write_blocks(ink, [FindingLine(finding, indent=2)])
    if sheet.findings:
        ink.line()
    if sheet.lacking:
        ink.wrapped(f"No new proof of it can be recorded: {sheet.lacking}.", "  ")
        ink.wrapped(f"Content hash: {sheet.hash}", "  ")
        return
    ink.wrapped(f"A new proof of this version goes into {sheet.file}:", "  ")
    ink.line()
    for line in sheet.block:
        ink.line(terminal(line))
