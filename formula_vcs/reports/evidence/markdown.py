"""The evidence of a recipe as markdown."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.law import duty_table
from formula_vcs.reports import duty_words
from formula_vcs.reports.evidence import sheet as evidence_sheet
from formula_vcs.reports.evidence.sheet import EvidenceSheet
from formula_vcs.reports.table_markdown import Page
from formula_vcs.words.escape import terminal


def write(sheet: EvidenceSheet, *, out: TextIO) -> None:
    """Write what each proof is worth and why, what is wrong with the files, and how to record a new proof."""
    page = Page(out)
    page.heading(2, f"{sheet.title} ({sheet.recipe}): evidence on {sheet.day}")
    for one in sheet.proofs:
        page.items([f"{duty_words.named(one)}: {evidence_sheet.said(one, sheet.day)}; {evidence_sheet.about(one)}"])
        page.items(evidence_sheet.crossed(one), 1)
    if not sheet.proofs:
        page.line("No evidence is recorded of it.")
    page.line()
    if any(one.crossings for one in sheet.proofs):
        page.paragraph(f"Measured from the version that each proof is about; {duty_table.note()}.")
    page.findings(sheet.findings)
    if sheet.findings:
        page.line()
    if sheet.lacking:
        page.paragraph(f"No new proof of it can be recorded: {sheet.lacking}. Content hash: {sheet.hash}")
        return
    page.paragraph(f"A new proof of this version goes into {sheet.file}:")
    page.line("```toml")
    for line in sheet.block:
        page.line(terminal(line))
    page.line("```")
