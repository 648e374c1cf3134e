"""The change note: what changed in a recipe since another version, who did it and why, and what has to follow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from formula_vcs.reports import review_document
from formula_vcs.reports.document.blocks import (
    Block,
    ChangedLine,
    ChangedLines,
    Column,
    FindingLine,
    Heading,
    Items,
    ListEntry,
    Paragraph,
    Row,
    TableBlock,
)
from formula_vcs.reports.papers.paper import NOT_ON_FILE, Paper
from formula_vcs.review.compare import Review

TITLE: Final = "Change note"


class WhyChanged(NamedTuple):
    """A commit that changed the recipe or what it rests on."""

    commit: str
    day: str
    author: str
    subject: str
    reason: str


class NoteSubject(NamedTuple):
    """What a change note is about: the version before as it was asked for, the review, and the commits between."""

    since: str
    since_commit: str
    review: Review | None
    commits: Sequence[WhyChanged]


def blocks(_: Paper, note: NoteSubject) -> Iterator[Block]:
    """Say what changed, why, what it does, what it breaks and what has to follow."""
    yield Paragraph(f"Compared with {note.since}, commit {note.since_commit}.")
    review = note.review
    if review is None:
        yield Paragraph("Nothing changed in the recipe or in what it rests on.")
        return
    yield Heading("What changed", 2)
    whole = review_document.whole(review)
    if whole:
        yield Paragraph(whole)
    else:
        rows = review_document.rows(review.changes, review.swaps)
        yield ChangedLines(
            tuple(ChangedLine(row.sign, row.text, follows=row.follows, more=tuple(row.more)) for row in rows)
        )
    yield from _why(note.commits)
    yield from _does(review)
    if review.new:
        yield Heading("What it breaks", 2)
        for item in review.new:
            yield FindingLine(item.finding)
    yield from _follows(review)


def _why(commits: Sequence[WhyChanged]) -> Iterator[Block]:
    yield Heading("Why", 2)
    if not commits:
        yield Paragraph(f"Commits between the two: {NOT_ON_FILE}.")
        return
    columns = (Column("day"), Column("commit"), Column("by"), Column("what was done"), Column("reason"))
    rows = (
        Row((one.day, one.commit[:12], one.author, one.subject, one.reason or f"reason: {NOT_ON_FILE}"))
        for one in commits
    )
    yield TableBlock(columns, tuple(rows), "The commits that made the change", heads=True)


def _does(review: Review) -> Iterator[Block]:
    if review.status != "changed":
        return
    moves = review_document.moves(review)
    yield Heading("What it does", 2)
    if not moves.moved:
        yield Paragraph("No figure moves.")
    else:
        columns = (
            Column("figure"),
            Column("before", "point"),
            Column("after", "point"),
            Column("unit"),
            Column("difference"),
        )
        rows = (Row((one.name, one.before, one.after, one.unit, one.difference)) for one in moves.moved)
        yield TableBlock(columns, tuple(rows), "Figures that move", heads=True)
    if moves.missing:
        yield Items(tuple(ListEntry(f"{NOT_ON_FILE}: {fact}") for fact in moves.missing), "- ")


def _follows(review: Review) -> Iterator[Block]:
    yield Heading("What has to follow", 2)
    if not review.duties:
        yield Paragraph("No duty follows, by the evidence and the table of duties on file.")
        return
    columns = (Column("what"), Column("who"), Column("because it"), Column("source"))
    rows = (Row((duty.duty, duty.owner, duty.touches if duty.evidence else "", duty.source)) for duty in review.duties)
    yield TableBlock(columns, tuple(rows), "Duties", heads=True)
