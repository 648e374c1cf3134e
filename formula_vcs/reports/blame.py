"""A recipe line by line, each with the commit that it is owed to, and the commits with their reasons."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import groupby
from typing import Annotated, Final

from formula_vcs.git.commit_log import Commit
from formula_vcs.history.balance_blame import BalanceBlame
from formula_vcs.history.blame import NOT_YET
from formula_vcs.history.version_of_recipe import Version
from formula_vcs.model.values import dataclass
from formula_vcs.reports import commit_words
from formula_vcs.reports.blame_sheet import AMOUNT, BlameLine, BlamePart, BlameSheet
from formula_vcs.reports.commits import CommitRecord, commit_record
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    Heading,
    Paragraph,
    Report,
    Row,
    TableBlock,
)  # fmt: skip
from formula_vcs.reports.document.data import CommitId, Exact, SchemaRule
from formula_vcs.reports.short_words import brief
from formula_vcs.words.imitation import headed
from formula_vcs.words.numbers import exact_text, shown, signed

_LEAD: Final = 26  # two blanks, the id, the day


def document(sheet: BlameSheet) -> Document:
    """Say all lines, then the commits."""
    heading = f"{headed(sheet.recipe.title, sheet.recipe.id)}, {sheet.revision}"
    return Document(
        f"Who last changed {heading}",
        (Heading(heading, kind="Who last changed"), *_groups(sheet), *_commits(sheet), *_shallow(sheet)),
    )


def _groups(sheet: BlameSheet) -> Iterator[Block]:
    for group, lines in groupby(sheet.lines, key=lambda line: line.group):
        yield GAP
        yield Heading(group, 2)
        rows = tuple(
            Row((commit_words.name(commit), commit.day, text), indent=2 if deep else 0)
            for line in lines
            for commit, text, deep in _said(line)
        )
        yield _table(rows, "line", "Lines, each behind the commit that last changed it")


def _table(rows: Iterable[Row], last: str, caption: str, below: str = "") -> TableBlock:
    first = (Column("commit", least=10), Column("date", least=10))
    return TableBlock((*first, Column(last)), tuple(rows), caption, below=below, wrap=True)


def _commits(sheet: BlameSheet) -> Iterator[Block]:
    yield GAP
    yield Heading("Commits", 2)
    for _ in filter(lambda commit: commit.oid == NOT_YET, sheet.commits):
        yield Paragraph(commit_words.UNCOMMITTED, indent=2)
    rows = (
        Row(
            (commit_words.name(commit), commit.day, commit_words.who(commit)),
            tuple(Paragraph(line, indent=_LEAD) for line in commit_words.told(commit)),
        )
        for commit in sheet.commits
        if commit.oid != NOT_YET
    )
    yield _table(rows, "author", "The commits, the newest first", "what and why")


def _shallow(sheet: BlameSheet) -> Iterator[Block]:
    if sheet.cut:
        yield GAP
        yield Paragraph(f"What is owed to the oldest commit here is as old {commit_words.SHALLOW}.")


def _said(line: BlameLine) -> Iterator[tuple[Commit, str, bool]]:
    """Give what stands behind which commit: the line itself, then, deeper, the parts of it that are owed to others."""
    if line.kind == "step":
        yield line.first.version.commit, line.name, False
        others = [part for part in line.parts if part.version is not line.first.version]
    elif line.balance is not None:
        yield line.balance.version.commit, _balance(line), False
        for mover in line.balance.movers:
            points = "" if mover.points is None else f"{signed(mover.points)} points "
            yield mover.version.commit, f"{points}by {brief(mover.change)}", True
        others = [part for part in line.parts if part.old is not None and part.what != AMOUNT]
    else:
        yield line.last.version.commit, _headline(line), False
        others = [part for part in line.parts if part.version is not line.last.version and _worth(line, part)]
    for part in others:
        yield part.version.commit, _part_words(part), True


def _balance(line: BlameLine) -> str:
    if line.balance is None:
        return line.name
    was = "" if line.balance.old is None else f" (was {_share(line.balance.old)})"
    return f"{line.name}, the balance: {_share(line.balance.new)}{was}"


def _share(value: Fraction) -> str:
    return f"{shown(value, 2, 4)} %"


def _worth(line: BlameLine, part: BlamePart) -> bool:
    """Say whether an older part of a line is worth a line of its own: not that a charge was always where it is."""
    return line.kind != "charge" or part.what not in ("phase", "grade") or part.old is not None


def _headline(line: BlameLine) -> str:
    """Say a line with what its last commit did to it."""
    whole = f"{line.name} {line.value}".rstrip() if line.kind == "charge" else _named(line)
    did = [_did_words(part, line) for part in line.parts if part.version is line.last.version]
    words = ", ".join(word for word in did if word)
    return f"{whole} ({words})" if words else whole


def _named(line: BlameLine) -> str:
    return f"{line.name} {line.value}".rstrip()


def _did_words(part: BlamePart, line: BlameLine) -> str:
    """Say what a commit did to a part of a line."""
    if part.old is None:
        return "new" if part.version.against and part.what in (AMOUNT, line.parts[0].what) else ""
    if part.what == "phase":
        return f"moved from phase {part.old}"
    if part.what == "grade":
        return f"another grade, was {part.old}"
    return f"was {part.old}" if part.what == AMOUNT or len(line.parts) == 1 else f"{part.what} was {part.old}"


def _part_words(part: BlamePart) -> str:
    """Say a part of a line by itself: what it is, and what it was."""
    was = "" if part.old is None else f" (was {part.old})"
    new = " (new)" if part.old is None and part.version.against else ""
    return f"{part.what} {part.value or ''}".rstrip() + was + new


@dataclass(frozen=True, slots=True)
class BlamedPart:
    """One part of a line: an amount, a phase, a grade, a field of a step ...

    A commit is null for what is not committed yet.
    """

    what: str
    where: str
    value: str | None
    old: str | None
    text: str | None
    commit: CommitId | None
    or_earlier: Annotated[bool, SchemaRule("A shallow clone ends at that commit")]


@dataclass(frozen=True, slots=True)
class BlamedMover:
    """A change that moved the balance, by how many points."""

    change: str
    text: str
    points: Exact | None
    commit: CommitId | None


@dataclass(frozen=True, slots=True)
class BlamedBalance:
    """The balance of a recipe: what it is, what it was, and what moved it."""

    pct: Exact
    old: Exact | None
    commit: CommitId | None
    or_earlier: bool
    moved_by: tuple[BlamedMover, ...]


@dataclass(frozen=True, slots=True)
class BlamedLine:
    """A line of the recipe with the commit that last changed its meaning."""

    kind: Annotated[str, SchemaRule(one_of=("charge", "step", "spec", "claim", "market", "phase", "accept", "header"))]
    where: str
    name: str
    value: str | None
    commit: CommitId | None
    parts: Annotated[tuple[BlamedPart, ...], SchemaRule(at_least_items=1)]
    balance: BlamedBalance | None


@dataclass(frozen=True, slots=True)
class BlameRecord:
    """Each line of a recipe with the commit that last changed its meaning.

    A commit is null for what is not committed yet.
    """

    recipe: str
    title: str
    revision: str
    commit: CommitId | None
    file: str
    lines: tuple[BlamedLine, ...]
    commits: Annotated[tuple[CommitRecord, ...], SchemaRule("The commits that lines name, the newest first")]
    shallow: Annotated[
        bool, SchemaRule("The clone is shallow, and something here may be older than the commit it is owed to")
    ]


def record(sheet: BlameSheet) -> BlameRecord:
    """Give all lines as data, and the commits that they name."""
    return BlameRecord(
        sheet.recipe.id, sheet.recipe.title, sheet.revision, sheet.commit, sheet.file,
        tuple(map(_line_record, sheet.lines)),
        tuple(commit_record(commit) for commit in sheet.commits if commit.oid != NOT_YET), sheet.cut,
    )  # fmt: skip


def _line_record(line: BlameLine) -> BlamedLine:
    balance = None if line.balance is None else _balance_record(line.balance)
    parts = tuple(map(_part_record, line.parts))
    return BlamedLine(
        line.kind, line.where, line.name, line.value or None, _id(line.last.version), parts, balance
    )  # fmt: skip


def _part_record(part: BlamePart) -> BlamedPart:
    return BlamedPart(
        part.what, part.where, part.value, part.old, part.text or None, _id(part.version), part.version.status == "cut"
    )


def _balance_record(found: BalanceBlame) -> BlamedBalance:
    movers = (
        BlamedMover(
            mover.change.id, mover.change.text, None if mover.points is None else exact_text(mover.points),
            _id(mover.version),
        )
        for mover in found.movers
    )  # fmt: skip
    return BlamedBalance(
        exact_text(found.new), None if found.old is None else exact_text(found.old), _id(found.version),
        found.version.status == "cut", tuple(movers),
    )  # fmt: skip


def _id(version: Version) -> str | None:
    return None if version.commit.oid == NOT_YET else version.commit.oid


REPORT: Final = Report("blame", "blame", document, record)
