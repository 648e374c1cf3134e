"""Findings of a check, or of one record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Annotated, Final

from formula_vcs.law.not_judged import not_judged_words
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Document,
    FindingLine,
    Heading,
    Lines,
    Paragraph,
    Report,
    Span,
)  # fmt: skip
from formula_vcs.reports.document.data import Name, SchemaRule
from formula_vcs.reports.findings import FindingRecord, finding_record
from formula_vcs.rules.accepted import accept_lines

_CAUTION: Final = "A passing check is arithmetic: the safety assessor, the responsible person and local law decide."
_RESTS: Final = (
    "Findings that cite [memory], [commentary] or [data export] rest on rows whose source was not read itself."
)
_NOT_READ: Final = ("[memory]", "[commentary]", "[data export]")


@dataclass(frozen=True, slots=True)
class CheckShown:
    """What a check found; ``recipes`` is None for a record.

    ``not_judged`` names markets and fields of law that nobody here judges.  With ``how``, the lines that accept it
    stand below each finding that can be accepted.
    """

    findings: Sequence[Finding]
    blocked: bool
    recipes: int | None
    not_judged: Sequence[str] = ()
    how: bool = False


def document(found: CheckShown) -> Document:
    """Say one finding after the other, then the count and the verdict."""
    lines = (FindingLine(finding, tuple(_accepting(finding, how=found.how))) for finding in found.findings)
    return Document("Recipe check", (Heading("", kind="Recipe check"), *lines, *_closing(found)))


def _accepting(finding: Finding, *, how: bool) -> Iterator[Block]:
    lines = accept_lines(finding) if how else None
    if lines:
        yield Lines(tuple(lines.splitlines()), indent=8)


def _closing(found: CheckShown) -> Iterator[Block]:
    if found.findings:
        yield GAP
    counts = Counter(finding.severity for finding in found.findings)
    parts = [f"{counts[severity]} {severity}" for severity in SEVERITIES if counts[severity]]
    verdict = Span("blocked", "block") if found.blocked else "nothing blocks"
    yield Paragraph((f"{_count(found.recipes)}: {', '.join(parts) or 'no findings'}; ", verdict))
    if any(finding.source.endswith(_NOT_READ) for finding in found.findings):
        yield Paragraph(_RESTS)
    if found.not_judged:
        yield Paragraph(not_judged_words(found.not_judged))
    if not found.blocked:
        yield Paragraph(_CAUTION)


def _count(recipes: int | None) -> str:
    if recipes is None:
        return "the record"
    return "1 recipe" if recipes == 1 else f"{recipes} recipes"


@dataclass(frozen=True, slots=True)
class CheckRecord:
    """Every finding of a workspace, and whether any blocks."""

    findings: tuple[FindingRecord, ...]
    blocked: bool
    not_judged: Annotated[
        tuple[Name, ...],
        SchemaRule("Markets and fields of law that nobody here judges, by name; they never count as passed"),
    ]


def record(found: CheckShown) -> CheckRecord:
    """Give all findings as data, and what nobody here judges."""
    return CheckRecord(tuple(map(finding_record, found.findings)), found.blocked, tuple(found.not_judged))


REPORT: Final = Report("check", "check", document, record)
