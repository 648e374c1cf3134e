"""A finding as data, the same in every report."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, TypeVar

from formula_vcs.model.facts import spelled
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.data import Name, SchemaRule
from formula_vcs.rules.accepted import accept_lines

Extended = TypeVar("Extended")


@dataclass(frozen=True, slots=True)
class MendRecord:
    """The nearest number that would mend a finding, tried by judging: in words, and where it is written.

    ``path`` is the place in the recipe's file, ``end`` which number of it.
    """

    words: str
    path: Annotated[str, SchemaRule("The fact of the recipe, phase/D/charge/glycerin")]
    end: Annotated[
        str,
        SchemaRule(
            "Which number of it: the amount, the end of a range, its one value, or the size",
            one_of=("amount", "low", "high", "one", "size"),
        ),
    ]
    value: Annotated[str, SchemaRule(pattern=r"^\d+(\.\d+)?$")]
    unit: str


@dataclass(frozen=True, slots=True)
class FindingRecord:
    """What a rule says of one place of a file."""

    rule: Annotated[str, SchemaRule(pattern="^[a-z0-9-]+$")]
    severity: Severity
    recipe: str | None
    file: str
    line: Annotated[int, SchemaRule(least=1)]
    column: Annotated[int, SchemaRule(least=1)]
    message: Name
    source: str
    fingerprint: Annotated[
        str,
        SchemaRule("The same for the same finding in every version, whatever its line", pattern="^[0-9a-f]{16}$"),
    ]
    accept: Annotated[
        str | None,
        SchemaRule(
            "The lines of a recipe that accept this finding, with a reason to be written in; "
            "null where it cannot be accepted, or is"
        ),
    ]
    mend: Annotated[
        MendRecord | None,
        SchemaRule(
            "The nearest number that would mend the finding, tried by judging the recipe with it; "
            "null where none was looked for or found"
        ),
    ]


def finding_record(finding: Finding) -> FindingRecord:
    """A placed finding as data."""
    return extended(FindingRecord, finding)


def extended(record: Callable[..., Extended], finding: Finding, *more: object) -> Extended:
    """A placed finding as a record that says more of it: ``more`` are the fields behind those of `FindingRecord`."""
    mend = finding.mend
    return record(
        finding.rule, finding.severity, finding.recipe, finding.path, finding.line, finding.column, finding.message,
        finding.source, finding.fingerprint, accept_lines(finding),
        None if mend is None else MendRecord(mend.words, spelled(mend.path), mend.end, mend.value, mend.unit), *more,
    )  # fmt: skip
