"""An import as a person reads it before anything is written: mapping, rows taken, rows left, what is unclear."""

from __future__ import annotations

import difflib
import textwrap
from collections.abc import Iterable, Sequence
from typing import TextIO

from formula_vcs.model.finding import Finding
from formula_vcs.sheets.answers import SheetRemark, TableOutcome
from formula_vcs.sheets.draft import PlannedFile
from formula_vcs.sheets.import_plan import ImportPlan
from formula_vcs.words.escape import terminal

_WIDTH = 80
_MOST = 40


def write(plan: ImportPlan, findings: Sequence[Finding], *, whole: bool, out: TextIO) -> None:
    """Write the plan: one part a table, then the files, then what `check` says of them."""
    for note in plan.notes:
        _line(f"note: {note}", "", out)
    for said in plan.left:
        _line(f"left: {said.place}: {said.words}", "", out)
    for outcome in plan.outcomes:
        _table(outcome, out, whole=whole)
    _files(plan.changes, out)
    _findings(findings, out)


def _table(outcome: TableOutcome, out: TextIO, *, whole: bool) -> None:
    kind = outcome.kind or "not known what this is"
    same = f", {outcome.same} as on file" if outcome.same else ""
    _line(f"{outcome.place}: {kind}, {_count(outcome.rows, 'row')}{same}", "", out)
    for name, meaning in _unique(outcome.mapping, whole=whole):
        _line(f"{name} = {meaning}", "  ", out)
    _part("takes", outcome.taken, out, whole=whole)
    _part("leaves", outcome.left, out, whole=whole)
    _part("unclear, not taken", outcome.unclear, out, whole=True)
    for question in outcome.questions:
        _line(f"asks: {question.words} ({question.option})", "  ", out)
    print(file=out)


def _unique(mapping: Iterable[tuple[str, str]], *, whole: bool) -> list[tuple[str, str]]:
    found = list(dict.fromkeys(mapping))
    return found if whole else found[:_MOST]


def _part(title: str, lines: Sequence[SheetRemark], out: TextIO, *, whole: bool) -> None:
    if not lines:
        return
    print(f"  {title}:", file=out)
    shown = lines if whole else lines[:_MOST]
    for said in shown:
        _line(f"{said.place}: {said.words}", "    ", out)
    if len(shown) < len(lines):
        print(f"    and {len(lines) - len(shown)} more; --all shows them", file=out)


def _files(changes: Sequence[PlannedFile], out: TextIO) -> None:
    for change in changes:
        _line(f"{'new    ' if change.old is None else 'changed'} {change.path}", "", out)


def _findings(findings: Sequence[Finding], out: TextIO) -> None:
    if findings:
        print("\nWhat `git formula check` says of these files:", file=out)
    for finding in findings[:_MOST]:
        spot = f"{finding.file}:{finding.line}" if finding.line else finding.file
        _line(f"{spot}: {finding.severity} [{finding.rule}] {finding.message}", "  ", out)
    if len(findings) > _MOST:
        print(f"  and {len(findings) - _MOST} more", file=out)


def _line(text: str, indent: str, out: TextIO) -> None:
    for line in textwrap.wrap(
        terminal(text), _WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ", break_on_hyphens=False
    ):
        print(line, file=out)


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def differences(changes: Iterable[PlannedFile], out: TextIO) -> None:
    """Write the changes as unified diffs."""
    for change in changes:
        before = (change.old or "").splitlines(keepends=True)
        name = f"a/{change.path}" if change.old is not None else "/dev/null"
        for line in difflib.unified_diff(before, change.new.splitlines(keepends=True), name, f"b/{change.path}"):
            print(terminal(line.rstrip("\n")), file=out)
