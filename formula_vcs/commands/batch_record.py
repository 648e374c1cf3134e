"""``git formula batch record BATCH``: fill a batch in, from a table, from options, or answer by answer."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from formula_vcs.batches.batch_gate import lot_trouble
from formula_vcs.batches.open_record import Fact, OpenRecord, close, fill, lot_facts, open_record, result_fact
from formula_vcs.batches.record_questions import Question, questions, read_answer
from formula_vcs.commands import workspace_args
from formula_vcs.commands.batch_sheet import find, place_of
from formula_vcs.errors import BLOCKED, OK, WRONG, UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.model.finding import Finding, blocks, worst_first
from formula_vcs.model.values import replace
from formula_vcs.toml.batch_edit import facts_in
from formula_vcs.words.escape import terminal

_HELP: Final = """\
Enter leaves it open, q stops; = takes a set point as the sheet has it, but never
a mass. Each answer is written at once."""


def run(args: argparse.Namespace, word: str) -> int:
    """Fill the batch in; with errors nothing is written, unless a part was asked for."""
    place = place_of(args, word)
    day = workspace_args.day(args.date) if args.date else workspace_args.terms(None).day
    if args.output or args.format != "text":
        raise UserError("'batch record' prints text to the terminal; it takes no --output and no --format")
    with place.work_tree() as here, PinnedVersions(place.repo, place.folder, store=place.store) as pins:
        opened = open_record(place.root, here, find(here, place, word), pins, day)
        before = opened.read
        status = _from_options(opened, place, args) if args.weighings or _given(args) else _ask(opened)
        if status in (OK, BLOCKED) and opened.text.encode("utf-8") != before:
            opened.save()
        return _tell(opened, place, status, written=status in (OK, BLOCKED) and opened.read != before)


def _given(args: argparse.Namespace) -> bool:
    return bool(args.result or args.made or args.packs or args.close or args.by or args.lot)


def _from_options(opened: OpenRecord, place: workspace_args.WorkspaceRef, args: argparse.Namespace) -> int:
    status = _weighings(opened, args) if args.weighings else OK
    if status == WRONG:
        return WRONG
    fill(opened, _facts(opened, args), replace=args.replace)
    return _close(opened, place, args, status) if args.close else status


def _facts(opened: OpenRecord, args: argparse.Namespace) -> Iterator[Fact]:
    """Read what the options say."""
    for word in args.result or ():
        name, equals, value = (part.strip() for part in word.partition("="))
        if not equals or not name or not value:
            raise UserError(f"--result: '{word}' is no NAME=VALUE, like pH=5.0")
        yield result_fact(opened, name, value)
    for word in args.lot or ():
        key, equals, lot = (part.strip() for part in word.partition("="))
        if not equals or not lot:
            raise UserError(f"--lot: '{word}' is no CHARGE=LOT")
        yield from lot_facts(opened, key, lot)
    if args.by:
        yield ("made_by",), args.by
    if args.made:
        yield ("made",), args.made
    if args.packs:
        if not args.packs.isascii() or not args.packs.isdigit():
            raise UserError(f"--packs: '{args.packs}' is no number of packs")
        yield ("packs",), int(args.packs[:12])


def _weighings(opened: OpenRecord, args: argparse.Namespace) -> int:
    from formula_vcs.batches.take_weighings import take_in
    from formula_vcs.toml.syntax import LIMIT

    try:
        with Path(args.weighings).open("rb") as file:
            data = file.read(LIMIT + 1)
    except OSError as error:
        raise UserError(f"'{args.weighings}' cannot be read: {error.strerror}") from None
    taken = take_in(data, opened.text, opened.formula, replace=args.replace)
    for problem in taken.problems:
        spot = f":{problem.line}" if problem.line else ""
        print(terminal(f"git formula: {args.weighings}{spot}: {problem.message}"), file=sys.stderr)
    if taken.problems and not args.partial:
        print("git formula: nothing was written; --partial takes the other rows", file=sys.stderr)
        return WRONG
    opened.text = taken.text
    print(f"{taken.count} weighing{'' if taken.count == 1 else 's'} taken from {args.weighings}", file=sys.stderr)
    return BLOCKED if taken.problems else OK


def _close(opened: OpenRecord, place: workspace_args.WorkspaceRef, args: argparse.Namespace, status: int) -> int:
    """Close the record; what would block it then is said, and the record stays open."""
    kept = opened.text
    if close(opened, workspace_args.day(args.date) if args.date else opened.day):
        return status
    _print(opened, place)
    opened.text = kept
    words = f"batch '{opened.batch.id}' stays open: mend this, or decide it in [[deviation]]"
    print(f"git formula: {words}", file=sys.stderr)
    return BLOCKED


def _print(opened: OpenRecord, place: workspace_args.WorkspaceRef) -> None:
    from formula_vcs.reports import check, formats

    findings = sorted(_findings(opened, place), key=worst_first)
    formats.write(check.REPORT, check.CheckShown(findings, blocks(findings), None), "text", sys.stdout)
    sys.stdout.flush()


def _findings(opened: OpenRecord, place: workspace_args.WorkspaceRef) -> list[Finding]:
    return [replace(one, shown=place.shown(one.file)) for one in opened.findings() if one.severity != "note"]


def _tell(opened: OpenRecord, place: workspace_args.WorkspaceRef, status: int, *, written: bool) -> int:
    """Say what is still open, and what is wrong with what is filled in."""
    if status == WRONG:
        return status
    batch = Batch(opened.batch.id, facts_in(opened.text), opened.batch.file)
    if written:
        print(f"wrote {place.shown(batch.file)}", file=sys.stderr)
    missing = [charge.key for charge in batch.charges if charge.weighed is None]
    if missing:
        more = f" and {len(missing) - 6} more" if len(missing) > 6 else ""
        count = f"{len(missing)} of {len(batch.charges)} charges"
        print(terminal(f"still to be weighed, {count}: {', '.join(missing[:6])}{more}"))
    without = [charge.key for charge in batch.charges if any(part.lot is None for part in charge.weighings)]
    if without:
        more = f" and {len(without) - 6} more" if len(without) > 6 else ""
        print(terminal(f"without a lot: {', '.join(without[:6])}{more}"))
    findings = _findings(opened, place)
    if findings and batch.closed is None and status == OK:
        _print(opened, place)
        return BLOCKED if blocks(findings) else OK
    return status


def _ask(opened: OpenRecord) -> int:
    """Ask for everything that is open; the end of the input, or q, leaves the rest open."""
    print(_HELP)
    asked: set[tuple[str, ...]] = set()
    while True:
        question = next((one for one in questions(opened) if one.path not in asked), None)
        if question is None:
            return OK
        asked.add(question.path)
        try:
            if not _put(opened, question):
                return OK
        except KeyboardInterrupt:
            print("\nstopped; what was answered before is written")
            raise


def _put(opened: OpenRecord, question: Question) -> bool:
    """Ask until the answer can be read; False where there are no more answers."""
    hint = f" [{question.sheet}]" if question.sheet else ""
    while True:
        sys.stdout.write(f"{terminal(question.words)}{terminal(hint)}: ")
        sys.stdout.flush()
        line = sys.stdin.readline()
        answer = line.strip()
        if not line or answer in ("q", "quit"):
            print()
            return False
        if not answer:
            return True
        if answer == "=" and question.sheet and question.kind != "mass":
            answer = question.sheet
        try:
            opened.put(question.path, read_answer(answer, question, opened))
        except UserError as error:
            print(f"  {terminal(str(error))}")
            continue
        opened.save()
        if question.path[-1] == "lot" and opened.formula is not None:
            day = opened.batch.date or opened.day
            trouble = lot_trouble(question.path[3], answer, opened.formula, opened.here, day)
            if trouble:
                print(f"  written, but: {terminal(trouble)}")
        return True
