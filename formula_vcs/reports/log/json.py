"""The versions of a recipe as JSON, the oldest first: their record, from which the schema log.json is made."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, TextIO

from formula_vcs.diff.change import Change
from formula_vcs.figures.figure import Figure
from formula_vcs.history.crossing import Crossing
from formula_vcs.model.values import dataclass
from formula_vcs.reports.commits import CommitRecord, commit_record
from formula_vcs.reports.document.data import CommitId, Exact, SchemaRule, dump
from formula_vcs.reports.log import sheet as logs
from formula_vcs.reports.log.sheet import LogRow, LogSheet, When
from formula_vcs.words.numbers import exact_text


@dataclass(frozen=True, slots=True)
class LoggedChange:
    """A change of a version."""

    id: str
    kind: str
    where: str
    old: str | None
    new: str | None
    text: str


@dataclass(frozen=True, slots=True)
class LoggedFigure:
    """A figure of a version; its value is null where it is not known."""

    value: Exact | None
    unit: str
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LoggedApproval:
    """A role that approved a version."""

    role: str
    by: str
    condition: str | None
    file: str


@dataclass(frozen=True, slots=True)
class VersionRecord:
    """A version of the recipe."""

    commit: CommitRecord
    status: Annotated[
        str,
        SchemaRule(
            "added: the recipe begins; merged: a merge puts both sides together and has no change of its own; "
            "unread: the file does not parse; cut: a shallow clone ends here",
            one_of=("added", "changed", "merged", "removed", "unread", "cut"),
        ),
    ]
    file: Annotated[str, SchemaRule("The recipe's file then, from the top of the repository")]
    only_under: Annotated[bool, SchemaRule("Only something moved that the recipe rests on")]
    changes: tuple[LoggedChange, ...]
    approvals: Annotated[
        tuple[LoggedApproval, ...], SchemaRule("Roles that approved the version, by signatures that count now")
    ]
    share: Annotated[Exact | None, SchemaRule("The share in % of the charge that was asked for")]
    figures: Mapping[str, LoggedFigure]


@dataclass(frozen=True, slots=True)
class CrossingDoer:
    """A change that took part in a crossing."""

    change: LoggedChange
    share: Annotated[Exact | None, SchemaRule("What it brought of the difference, in the figure's unit")]
    commit: Annotated[CommitId, SchemaRule("Where it was made: of a merge the side's commit")]


@dataclass(frozen=True, slots=True)
class CrossingRecord:
    """A version that took the figure over the line, or back."""

    commit: CommitRecord
    back: Annotated[bool, SchemaRule("It came back over the line")]
    before: Annotated[LoggedFigure | None, SchemaRule("Null where the recipe began past the line")]
    after: LoggedFigure
    calendar: Annotated[bool, SchemaRule("No change of the commit did it: a price stated earlier came into force")]
    smallest: Annotated[bool, SchemaRule("False where there were too many changes to look for a smallest set")]
    by: Annotated[
        tuple[CrossingDoer, ...], SchemaRule("A smallest set of changes that suffices, the largest share first")
    ]


@dataclass(frozen=True, slots=True)
class WhenRecord:
    """When a figure crossed a line."""

    figure: str
    side: Annotated[str, SchemaRule(one_of=("below", "above"))]
    value: Exact
    crossed: Annotated[bool, SchemaRule("A version took the figure over the line")]
    began_past: Annotated[bool, SchemaRule("The oldest version was past the line already")]
    crossings: tuple[CrossingRecord, ...]
    now: LoggedFigure | None


@dataclass(frozen=True, slots=True)
class LogRecord:
    """The versions of a recipe, the oldest first, with figures; and when a figure crossed a line, where that was
    asked.
    """

    recipe: str
    title: str
    revision: str
    commit: CommitId
    charge: str | None
    figures: tuple[str, ...]
    prices_as_of: Annotated[
        str | None,
        SchemaRule("One day for all prices; null where each version has the day of its commit", format="date"),
    ]
    first_parent: bool
    shallow: Annotated[bool, SchemaRule("The clone is shallow, and there are older versions elsewhere")]
    left_out: Annotated[int, SchemaRule("Versions that --since or -n leave out", least=0)]
    versions: tuple[VersionRecord, ...]
    when: WhenRecord | None


def write(sheet: LogSheet, *, out: TextIO) -> None:
    """Write all versions, and the answer to --above or --below where it was asked."""
    dump(
        LogRecord(
            sheet.recipe, sheet.title, sheet.revision, sheet.commit, sheet.charge, tuple(sheet.names), sheet.as_of,
            sheet.first_parent, sheet.cut, sheet.left_out, tuple(map(_row, sheet.rows)),
            None if sheet.when is None else _when(sheet.when),
        ),
        out,
    )  # fmt: skip


def _row(row: LogRow) -> VersionRecord:
    version, share = row.version, row.figures.get(logs.SHARE)
    approvals = (LoggedApproval(one.role, one.who, one.condition or None, one.file) for one in row.approvals)
    return VersionRecord(
        commit_record(version.commit), version.status, version.path, row.under, tuple(map(_change, row.changes)),
        tuple(approvals), None if share is None or share.value is None else exact_text(share.value),
        {name: _figure(figure) for name, figure in row.figures.items() if name != logs.SHARE},
    )  # fmt: skip


def _change(change: Change) -> LoggedChange:
    return LoggedChange(change.id, change.kind, change.where, change.old, change.new, change.text)


def _figure(figure: Figure) -> LoggedFigure:
    value = None if figure.value is None else exact_text(figure.value)
    return LoggedFigure(value, figure.unit, tuple(figure.missing))


def _when(when: When) -> WhenRecord:
    return WhenRecord(
        when.line.figure, "below" if when.line.below else "above", exact_text(when.line.value),
        when.first is not None, when.began is not None, tuple(map(_crossing, when.crossings)),
        None if when.now is None else _figure(when.now),
    )  # fmt: skip


def _crossing(crossing: Crossing) -> CrossingRecord:
    doers = (
        CrossingDoer(
            _change(doer.change), None if doer.share is None else exact_text(doer.share), doer.version.commit.oid
        )
        for doer in crossing.doers
    )
    return CrossingRecord(
        commit_record(crossing.version.commit), crossing.back,
        None if crossing.before is None else _figure(crossing.before), _figure(crossing.after), crossing.calendar,
        crossing.smallest, tuple(doers),
    )  # fmt: skip
