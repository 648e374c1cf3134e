"""``git formula import``: spreadsheets into files of the workspace, shown first, written with ``--write``."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

from formula_vcs.commands import workspace_args
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.model.finding import worst_first
from formula_vcs.model.values import replace
from formula_vcs.sheets.answers import IMPORT_FILE, KINDS, Answers, ImportQuestion, remembered
from formula_vcs.sheets.grid import Book, SheetTrouble
from formula_vcs.sheets.header_words import WORDS, fold
from formula_vcs.sheets.import_plan import ImportPlan, overlay, plan_import
from formula_vcs.sheets.match_names import NEW
from formula_vcs.sheets.read_book import read_book
from formula_vcs.toml import syntax
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.workspace.snapshot import Overlay, Refused, Snapshot

if TYPE_CHECKING:
    from formula_vcs.model.finding import Finding

_MOST_QUESTIONS: Final = 200


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="spreadsheets: .xlsx, .ods, .xls, .csv")
    parser.add_argument("--write", action="store_true", help="write the files; without it they are only shown")
    parser.add_argument("--dry-run", action="store_true", help="only show what would be written (the default)")
    parser.add_argument("--diff", action="store_true", help="show what would be written line by line")
    parser.add_argument("--all", action="store_true", help="show every row, however many")
    parser.add_argument("--as", dest="kind", choices=KINDS, help="what the tables are, where that is not clear")
    parser.add_argument("--sheet", action="append", default=[], metavar="NAME", help="only this sheet; hidden ones too")
    parser.add_argument("--decimal", choices=(",", "."), help="the decimal sign, where the numbers leave it open")
    parser.add_argument("--fractions", choices=("yes", "no"), help="are amounts that add up to 1 fractions?")
    parser.add_argument("--hidden", choices=("take", "leave"), help="do hidden and struck-through rows count?")
    parser.add_argument("--single-inci", choices=("100", "unknown"), help="is one INCI name without a %% 100 %% of it?")
    parser.add_argument("--since", metavar="DATE", help="the day from which the prices of a list hold")
    parser.add_argument("--batch", metavar="BATCH", help="the batch that was weighed")
    parser.add_argument("--replace", action="store_true", help="take weighings in the place of those on record")
    parser.add_argument("--column", action="append", default=[], metavar="ROLE=HEAD", help="what a column is")
    parser.add_argument("--unit", action="append", default=[], metavar="ROLE=UNIT", help="the unit of a column")
    parser.add_argument("--name", action="append", default=[], metavar="NAME=ID", help="the ingredient of a name")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Read the sheets, show what they would change, ask where a person can, and write when told to."""
    if args.write and args.dry_run:
        raise UserError("--write and --dry-run do not go together")
    place = workspace_args.place(args.workspace)
    books = [_book(name) for name in args.files]
    snapshot = place.work_tree()
    plan, answers = _planned(books, snapshot, _answers(args, snapshot))
    from formula_vcs.reports.sheet_import import text

    findings = _checked(snapshot, plan)
    text.write(plan, findings, whole=args.all, out=sys.stdout)
    if args.diff:
        text.differences(plan.changes, sys.stdout)
    weighed = _weighings(plan, place, snapshot, answers)
    if args.write:
        _write(place, plan, weighed)
    _say_end(plan, len(weighed), written=args.write)
    blocked = any(finding.severity == "block" for finding in findings)
    return BLOCKED if plan.questions or plan.unclear or blocked else OK


def _book(name: str) -> Book:
    try:
        return read_book(Path(name))
    except SheetTrouble as error:
        raise UserError(f"'{name}' {error}; nothing was written") from None
    except (RecursionError, MemoryError):
        raise UserError(f"'{name}' is no sheet that can be read; nothing was written") from None


def _answers(args: argparse.Namespace, snapshot: Snapshot) -> Answers:
    raw = snapshot.source.read(IMPORT_FILE)
    parsed = None if isinstance(raw, Refused) else syntax.parse(raw)
    if parsed is not None and parsed.errors:
        first = parsed.errors[0]
        raise UserError(f"{IMPORT_FILE}:{first.line}:{first.column}: {first.message}")
    kept = Answers() if parsed is None else remembered(parsed.data)
    told = {
        "kind": args.kind,
        "decimal": args.decimal,
        "fractions": args.fractions,
        "hidden": args.hidden,
        "single_inci": args.single_inci,
    }
    given = {key: value for key, value in told.items() if value}
    given.update({f"column.{role}": fold(head) for role, head in map(_column, args.column)})
    given.update({f"unit.{role}": unit for role, unit in map(_pair("--unit"), args.unit)})
    names = dict(map(_pair("--name"), args.name))
    for id_ in names.values():
        if id_ != NEW and id_ not in snapshot.ids("ingredients"):
            raise UserError(f"--name: no ingredient is called '{id_}'")
    return replace(
        kept,
        told=given,
        names={**kept.names, **names},
        since=workspace_args.day(args.since) if args.since else None,
        batch=args.batch or "",
        sheets=tuple(args.sheet),
        replace=args.replace,
    )


def _pair(option: str):  # type: ignore[no-untyped-def]  # noqa: ANN202 - a function of one text
    def apart(text: str) -> tuple[str, str]:
        left, mark, right = text.rpartition("=")
        if not mark or not left.strip() or not right.strip():
            raise UserError(f"{option}: '{text}' has no '=': write it like {option} 'this=that'")
        return left.strip(), right.strip()

    return apart


def _column(text: str) -> tuple[str, str]:
    role, _, head = text.partition("=")
    if role.strip().replace(" ", "_") not in WORDS or not head.strip():
        raise UserError(f"--column: '{text}': write ROLE=HEAD; the roles are {', '.join(WORDS)}")
    return role.strip().replace(" ", "_"), head.strip()


def _planned(books: list[Book], snapshot: Snapshot, answers: Answers) -> tuple[ImportPlan, Answers]:
    """ImportPlan, and at a terminal ask until nothing is open or the person has no answer."""
    refused: set[str] = set()
    for _ in range(_MOST_QUESTIONS):
        try:
            plan = plan_import(books, snapshot, answers)
        except CannotWrite as error:
            raise UserError(f"{error}; nothing was written") from None
        open_ = [question for question in plan.questions if question.key not in refused]
        if not open_ or not (sys.stdin.isatty() and sys.stderr.isatty()):
            return plan, answers
        answer = _ask(open_[0])
        if answer is None:
            refused.add(open_[0].key)
        else:
            answers = answers.with_told(open_[0].key, answer)
    return plan_import(books, snapshot, answers), answers


def _ask(question: ImportQuestion) -> str | None:
    from formula_vcs.words.escape import terminal

    choices = f" [{', '.join(question.choices)}]" if question.choices else ""
    print(terminal(f"{question.place}: {question.words}{choices} (empty: leave it)"), file=sys.stderr)
    try:
        answer = input("> ").strip()
    except EOFError:
        return None
    if question.choices and answer not in question.choices and not question.key.startswith("column."):
        return None
    if question.key == "since":
        try:
            workspace_args.day(answer)
        except UserError:
            return None
    return answer or None


def _checked(snapshot: Snapshot, plan: ImportPlan) -> list[Finding]:
    """Judge what would be written as `check` would, before it is."""
    from formula_vcs.evidence.judge_workspace import judge_workspace

    files = overlay(plan)
    if not files:
        return []
    after = Snapshot(Overlay(snapshot.source, files))
    day = workspace_args.terms(None).day
    found = [after.place(finding) for finding in judge_workspace(after, day) if finding.file in files]
    return sorted((finding for finding in found if finding.severity != "note"), key=worst_first)


def _weighings(
    plan: ImportPlan, place: workspace_args.WorkspaceRef, snapshot: Snapshot, answers: Answers
) -> list[tuple[str, str, str]]:
    """Give path, old and new text of the batches whose weighings can go in; all problems are said and stop it."""
    found = []
    for one in plan.weighings:
        path = snapshot.ids("batches").get(one.batch)
        if path is None:
            from formula_vcs.toml.takers import nearest

            near = nearest(one.batch, snapshot.ids("batches"))
            raise UserError(f"{one.place}: no batch is called '{one.batch}'{near}; nothing was written")
        from formula_vcs.batches.take_weighings import take_in

        raw = snapshot.source.read(path)
        if isinstance(raw, Refused):
            raise UserError(f"{path} {raw.message}; nothing was written")
        old = syntax.parse(raw).text
        taken = take_in(one.table, old, _formula_of(place, snapshot, one.batch), replace=answers.replace)
        if taken.problems:
            words = "; ".join(problem.message for problem in taken.problems[:5])
            raise UserError(f"{one.place}: {words}; nothing was written")
        print(f"{one.place}: {taken.count} weighings go into {path}")
        if taken.text != old:
            found.append((path, old, taken.text))
    return found


def _formula_of(place: workspace_args.WorkspaceRef, snapshot: Snapshot, batch: str):  # type: ignore[no-untyped-def]  # noqa: ANN202
    """Give the formula that a batch was made by, as far as the work tree has it: for titles and codes only."""
    del place
    record = snapshot.record("batches", batch)
    name = None if record is None else record.facts.get(("recipe",))
    recipe = snapshot.recipe(name) if isinstance(name, str) else None
    return None if recipe is None else snapshot.formula(recipe)


def _write(place: workspace_args.WorkspaceRef, plan: ImportPlan, weighed: list[tuple[str, str, str]]) -> None:
    """Write all files, each whole or not at all; a file that changed since it was read stops it before the first."""
    from formula_vcs.toml.atomic import unwritable, write_new, write_whole

    files = [*((c.path, c.old, c.new) for c in plan.changes), *weighed]
    for path, old, _ in files:
        _unchanged(place, path, old)
    for path, old, new in files:
        target = place.root / path
        try:
            target.parent.mkdir(exist_ok=True)
            (write_new if old is None else write_whole)(target, new.encode("utf-8"))
        except OSError as error:
            raise unwritable(target, error) from error


def _unchanged(place: workspace_args.WorkspaceRef, path: str, old: str | None) -> None:
    target = place.root / path
    if target.parent.is_symlink():
        raise UserError(f"'{path}' lies behind a link; links to folders are not followed, nothing was written")
    if old is None and target.exists():
        raise UserError(f"'{path}' came to be in the meantime; nothing was written")
    if old is not None and syntax.parse(target.read_bytes()).text != old:
        raise UserError(f"'{path}' was changed in the meantime; nothing was written")


def _say_end(plan: ImportPlan, weighed: int, *, written: bool) -> None:
    count = len(plan.changes) + weighed
    files = f"{count} file" if count == 1 else f"{count} files"
    if not count:
        print("Nothing to write: all that was read is on file.")
    elif written:
        print(f"Wrote {files}.")
    else:
        print(f"Nothing was written: this is what --write would do, to {files}.")
    if plan.questions:
        print("What is asked above was left out; the option in brackets answers it.")
