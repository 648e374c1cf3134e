"""The evidence of a recipe: what each proof is worth now, and how to record a new one."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law import duty_table
from formula_vcs.reports import duty_words, evidence_sheet
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    FindingLine,
    Heading,
    Items,
    Lines,
    ListEntry,
    Paragraph,
)  # fmt: skip
from formula_vcs.reports.evidence_sheet import EvidenceSheet


def evidence_blocks(sheet: EvidenceSheet, level: int = 1) -> Iterator[Block]:
    """Give what each proof is worth and why, what is wrong with the files, and how to record a new proof."""
    yield Heading(f"{sheet.title} ({sheet.recipe}): evidence on {sheet.day}", level)
    yield GAP
    if sheet.proofs:
        yield Items(tuple(_proofs(sheet)), hang=0)
    else:
        yield Paragraph("No evidence is recorded of it.", indent=2)
    yield GAP
    if any(one.crossings for one in sheet.proofs):
        yield Paragraph(f"Measured from the version that each proof is about; {duty_table.note()}.", indent=2)
        yield GAP
    yield from (FindingLine(finding, indent=2) for finding in sheet.findings)
    if sheet.findings:
        yield GAP
    if sheet.lacking:
        yield Paragraph(f"No new proof of it can be recorded: {sheet.lacking}.", indent=2)
        yield Paragraph(f"Content hash: {sheet.hash}", indent=2)
        return
    yield Paragraph(f"A new proof of this version goes into {sheet.file}:", indent=2)
    yield GAP
    yield Lines(sheet.block, language="toml")


def _proofs(sheet: EvidenceSheet) -> Iterator[ListEntry]:
    for one in sheet.proofs:
        crossed = tuple(map(ListEntry, evidence_sheet.crossed(one)))
        why = (Items(crossed, mark="- ", indent=6, hang=2),) if crossed else ()
        about = Paragraph(evidence_sheet.about(one), indent=6)
        yield ListEntry(f"{duty_words.named(one)}: {evidence_sheet.said(one, sheet.day)}", (about, *why))
