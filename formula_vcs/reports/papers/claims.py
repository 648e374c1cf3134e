"""The claims dossier: each claim with its arithmetic, line by line, to be checked by hand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.figures.standards import Mark
from formula_vcs.law.claim_working import ClaimWorking, claim_working, number
from formula_vcs.law.claims.table import judge_claims
from formula_vcs.reports.document.blocks import (
    Block,
    Column,
    Heading,
    Items,
    KeyValues,
    ListEntry,
    Paragraph,
    Row,
    TableBlock,
    Verdict,
)
from formula_vcs.reports.papers.paper import Paper

TITLE: Final = "Claims dossier"
_STATES: Final = {"holds": "good", "fails": "bad", "needs information": "warn"}


def blocks(paper: Paper) -> Iterator[Block]:
    """Give a part a claim."""
    outcomes = judge_claims(paper.law, paper.day)
    if not outcomes:
        yield Paragraph("The recipe states no claim.")
    for outcome in outcomes:
        yield from _claim(claim_working(paper.law, outcome, paper.day))


def _claim(how: ClaimWorking) -> Iterator[Block]:
    outcome = how.outcome
    yield Heading(outcome.claim, 2)
    words = f"{outcome.verdict}: {outcome.because}"
    state = _STATES[outcome.verdict]
    yield Verdict((Paragraph(words),), "good" if state == "good" else "bad" if state == "bad" else "warn")
    if outcome.marks:
        yield KeyValues(tuple(map(_mark, outcome.marks)), "The numbers that it is held to")
    if how.method:
        yield Paragraph(how.method)
    if how.rows:
        columns = tuple(
            Column(head, "left" if n == 0 or "stated" in head else "point") for n, head in enumerate(how.heads)
        )
        yield TableBlock(columns, tuple(Row(row) for row in how.rows), f"The summands of {outcome.claim}", heads=True)
    if how.sums:
        yield KeyValues(how.sums, "Sums")
    if outcome.missing:
        yield Paragraph("Not on file:")
        yield Items(tuple(ListEntry(fact) for fact in outcome.missing), "- ")
    if how.rests_on:
        yield Paragraph(f"Rests on: {how.rests_on}.", "dim")


def _mark(mark: Mark) -> tuple[str, str]:
    value = (
        number(mark.value.value)
        if mark.value.value is not None
        else f"{number(mark.value.low)} to {number(mark.value.high)}"
    )
    words = "at least" if mark.least else "at most"
    off = (mark.value.low - mark.limit) if mark.least else (mark.limit - mark.value.high)
    left = f"{number(abs(off))} points {'inside' if off >= 0 else 'short of it' if mark.least else 'over it'}"
    return mark.what, f"{value} %; {words} {number(mark.limit)} %; {left}"
