"""``git formula batch record BATCH``: fill a batch in, from a table, from options, or answer by answer."""

from __future__ import annotations

import argparse
import datetime
import sys
from collections.abc import Iterator
from pathlib import Path

from formula_vcs.commands import workspace_args
from formula_vcs.commands.batch_sheet import find, place_of
from formula_vcs.errors import BLOCKED, OK, WRONG, UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.model.facts import Unread
from formula_vcs.model.finding import Finding, blocks, worst_first
from formula_vcs.model.formula import Formula
from formula_vcs.model.spec_line import conforms
from formula_vcs.model.values import dataclass, replace
from formula_vcs.rules.judge import judge_record
from formula_vcs.rules.rule import RecordCase
from formula_vcs.toml.atomic import alone, write_atomic
from formula_vcs.toml.batch_edit import facts_in, fill_in
from formula_vcs.toml.edit import EditRefused
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.words.escape import terminal
from formula_vcs.workspace.snapshot import Overlay, Snapshot, refused


@dataclass
class Open:
    """A batch file that is being filled in: its text as it stands in memory."""

    place: workspace_args.WorkspaceRef
    here: Snapshot
    batch: Batch
    formula: Formula | None
    text: str
    pins: PinnedVersions
    day: datetime.date
    read: bytes

    @property
    def file(self) -> Path:
        """Give the file on disk."""
        return self.place.root / self.batch.file

    def put(self, path: tuple[str, ...], value: object) -> None:
        """Fill one fact in, in memory.

        :raises UserError: it cannot stand there, or is not what the file wants there.
        """
        try:
            text = fill_in(self.text, path, value)
        except EditRefused as error:
            raise UserError(f"'{'/'.join(path)}': {error}") from None
        found = facts_in(text).get(path)
        if isinstance(found, Unread):
            raise UserError(found.message)
        self.text = text

    def save(self) -> None:
        """Write the file, whole or not at all, with what somebody else wrote into it since it was read.

        :raises UserError: it cannot be written, or the other one recorded something else in the same place.
        """
        try:
            with alone(self.file.parent):
                now = self.file.read_bytes()
                if now != self.read:
                    self.text = self._with(now)
                self.read = self.text.encode("utf-8")
                if self.read != now:
                    write_atomic(self.file, self.read)
        except OSError as error:
            raise UserError(f"'{self.batch.file}' cannot be written: {error.strerror}") from None

    def _with(self, now: bytes) -> str:
        """Give the text with what the file says by now, merged by its meaning."""
        from formula_vcs.merge.merge_file import merge_texts
        from formula_vcs.merge.three_way import ThreeWay

        meanwhile = f"'{self.batch.file}' was changed by somebody else meanwhile"
        found = merge_texts("batches", ThreeWay(now, self.read, self.text.encode("utf-8")))
        if found is None:
            raise UserError(f"{meanwhile}, and cannot be read now; what you recorded last was not written")
        if found.clashes:
            words = "; ".join(clash.words for clash in found.clashes)
            raise UserError(f"{meanwhile}: {words} (theirs and yours); what you recorded last was not written")
        closed = Batch(self.batch.id, facts_in(now.decode("utf-8"))).closed
        if closed is not None:
            raise UserError(f"batch '{self.batch.id}' was closed meanwhile; what you recorded last was not written")
        return found.text

    def findings(self) -> list[Finding]:
        """Judge the file as it stands in memory."""
        source = Overlay(self.here.source, {self.batch.file: self.text.encode("utf-8")})
        seen = Snapshot(source, self.here.store)
        record = seen.record("batches", self.batch.id)
        if record is None:
            return []
        found = [*refused(record.facts, record.file, None)]
        found += judge_record(RecordCase(record, seen, self.pins, self.day))
        return [replace(seen.place(one), shown=self.place.shown(one.file)) for one in found]


def run(args: argparse.Namespace, word: str) -> int:
    """Fill the batch in; with errors nothing is written, unless a part was asked for."""
    place = place_of(args, word)
    day = workspace_args.day(args.date) if args.date else workspace_args.terms(None).day
    if args.output or args.format != "text":
        raise UserError("'batch record' prints text to the terminal; it takes no --output and no --format")
    with place.work_tree() as here, PinnedVersions(place.repo, place.folder, store=place.store) as pins:
        opened = _open(place, here, pins, word, day)
        before = opened.read
        if args.weighings or _given(args):
            status = _from_options(opened, args)
        else:
            from formula_vcs.commands.batch_ask import ask

            status = ask(opened)
        if status in (OK, BLOCKED) and opened.text.encode("utf-8") != before:
            opened.save()
        return _told(opened, status, written=status in (OK, BLOCKED) and opened.read != before)


def _open(
    place: workspace_args.WorkspaceRef, here: Snapshot, pins: PinnedVersions, word: str, day: datetime.date
) -> Open:
    batch = find(here, place, word)
    file = place.root / batch.file
    if file.is_symlink():
        raise UserError(f"'{batch.file}' is a link: name the file itself")
    read = file.read_bytes()
    parsed = parse(read)
    if parsed.errors:  # it was whole a moment ago
        raise UserError(f"'{batch.file}' was changed by somebody else just now, and cannot be read")
    batch = Batch(batch.id, facts_of("batches", parsed.data), batch.file)
    if batch.closed is not None:
        raise UserError(f"batch '{batch.id}' is closed since {batch.closed}: a finished record is not edited")
    pinned = pins.at(batch.commit, batch.recipe) if batch.commit and batch.recipe else None
    formula = None if pinned is None else pinned.formula
    # not read_text: an ending of a line is somebody's too, and stays
    return Open(place, here, batch, formula, read.decode("utf-8"), pins, day, read)


def _given(args: argparse.Namespace) -> bool:
    return bool(args.result or args.made or args.packs or args.close or args.by or args.lot)


def _from_options(opened: Open, args: argparse.Namespace) -> int:
    status = OK
    if args.weighings:
        status = _weighings(opened, args)
        if status == WRONG:
            return WRONG
    for path, value in _facts(opened, args):
        known = opened.batch.facts.get(path)
        if known is not None and not args.replace and not _same(opened, path, value):
            raise UserError(f"'{'/'.join(path)}' is filled in already, {known}; --replace takes {value} in its place")
        opened.put(path, value)
    if args.close:
        return _close(opened, args, status)
    return status


def _same(opened: Open, path: tuple[str, ...], value: object) -> bool:
    """Say whether a fact says the same already."""
    text = fill_in(opened.text, path, value)
    return bool(facts_in(text).get(path) == opened.batch.facts.get(path))


def _facts(opened: Open, args: argparse.Namespace) -> Iterator[tuple[tuple[str, ...], object]]:
    """Give what the options say, as facts."""
    for word in args.result or ():
        name, equals, value = (part.strip() for part in word.partition("="))
        if not equals or not name or not value:
            raise UserError(f"--result: '{word}' is no NAME=VALUE, like pH=5.0")
        spec = {} if opened.formula is None else opened.formula.recipe.spec_lines
        right = next((known for known in spec if known.casefold() == name.casefold()), name)
        judged = conforms(value) if right in spec and spec[right].words else None
        if judged is None and right in spec and spec[right].words:
            raise UserError(f"--result: '{right}' is in words, {spec[right]}: write {right}=yes or {right}=no")
        yield ("result", right), value if judged is None else judged
    for word in args.lot or ():
        key, equals, lot = (part.strip() for part in word.partition("="))
        if not equals or not lot:
            raise UserError(f"--lot: '{word}' is no CHARGE=LOT")
        found = [charge for charge in opened.batch.charges if key in (charge.key, charge.ingredient)]
        if len(found) != 1:
            many = "may be " + " or ".join(charge.key for charge in found) if found else "is no charge of this batch"
            raise UserError(f"--lot: '{key}' {many}")
        for portion in found[0].weighings:
            yield (*portion.path, "lot"), lot
    if args.by:
        yield ("made_by",), args.by
    if args.made:
        yield ("made",), args.made
    if args.packs:
        if not args.packs.isascii() or not args.packs.isdigit():
            raise UserError(f"--packs: '{args.packs}' is no number of packs")
        yield ("packs",), int(args.packs[:12])


def _weighings(opened: Open, args: argparse.Namespace) -> int:
    from formula_vcs.commands.batch_weighings import take_in
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


def _close(opened: Open, args: argparse.Namespace, status: int) -> int:
    """Close the record; what would block it then is said, and the record stays open."""
    kept = opened.text
    day = workspace_args.day(args.date) if args.date else opened.day
    opened.put(("closed",), day)
    if not blocks(opened.findings()):
        return status
    _print(opened)
    opened.text = kept
    words = f"batch '{opened.batch.id}' stays open: mend this, or decide it in [[deviation]]"
    print(f"git formula: {words}", file=sys.stderr)
    return BLOCKED


def _print(opened: Open) -> None:
    from formula_vcs.reports import check, formats

    found = sorted((one for one in opened.findings() if one.severity != "note"), key=worst_first)
    formats.write(check.REPORT, check.CheckShown(found, blocks(found), None), "text", sys.stdout)
    sys.stdout.flush()


def _told(opened: Open, status: int, *, written: bool) -> int:
    """Say what is still open, and what is wrong with what is filled in."""
    if status == WRONG:
        return status
    batch = Batch(opened.batch.id, facts_in(opened.text), opened.batch.file)
    if written:
        print(f"wrote {opened.place.shown(batch.file)}", file=sys.stderr)
    missing = [charge.key for charge in batch.charges if charge.weighed is None]
    if missing:
        more = f" and {len(missing) - 6} more" if len(missing) > 6 else ""
        count = f"{len(missing)} of {len(batch.charges)} charges"
        print(terminal(f"still to be weighed, {count}: {', '.join(missing[:6])}{more}"))
    without = [charge.key for charge in batch.charges if any(part.lot is None for part in charge.weighings)]
    if without:
        more = f" and {len(without) - 6} more" if len(without) > 6 else ""
        print(terminal(f"without a lot: {', '.join(without[:6])}{more}"))
    found = [one for one in opened.findings() if one.severity != "note"]
    if found and batch.closed is None and status == OK:
        _print(opened)
        return BLOCKED if blocks(found) else OK
    return status
