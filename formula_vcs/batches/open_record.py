"""A batch file that is being filled in: what may be written into it, judging it, closing it, saving it."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from pathlib import Path

from formula_vcs.errors import UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.model.facts import Unread
from formula_vcs.model.finding import Finding, blocks
from formula_vcs.model.formula import Formula
from formula_vcs.model.spec_line import conforms
from formula_vcs.model.values import dataclass
from formula_vcs.rules.judge import judge_record
from formula_vcs.rules.rule import RecordCase
from formula_vcs.toml.atomic import alone, write_atomic
from formula_vcs.toml.batch_edit import facts_in, fill_in
from formula_vcs.toml.edit import EditRefused
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Overlay, Snapshot, refused

Fact = tuple[tuple[str, ...], object]
"""Where something is filled in, and what."""


@dataclass
class OpenRecord:
    """A batch file that is being filled in: its text as it stands in memory."""

    root: Path
    here: Snapshot
    batch: Batch
    formula: Formula | None
    text: str
    pins: PinnedVersions
    day: datetime.date
    read: bytes

    @property
    def file(self) -> Path:
        """The file on disk."""
        return self.root / self.batch.file

    def put(self, path: tuple[str, ...], value: object) -> None:
        """Fill one fact in, in memory.

        :raises UserError: it cannot stand there, or is not what the file wants there.
        """
        try:
            text = fill_in(self.text, path, value)
        except EditRefused as error:
            raise UserError(f"'{'/'.join(path)}': {error}") from None
        value = facts_in(text).get(path)
        if isinstance(value, Unread):
            raise UserError(value.message)
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
        merged = merge_texts("batches", ThreeWay(now, self.read, self.text.encode("utf-8")))
        if merged is None:
            raise UserError(f"{meanwhile}, and cannot be read now; what you recorded last was not written")
        if merged.clashes:
            words = "; ".join(clash.words for clash in merged.clashes)
            raise UserError(f"{meanwhile}: {words} (theirs and yours); what you recorded last was not written")
        closed = Batch(self.batch.id, facts_in(now.decode("utf-8"))).closed
        if closed is not None:
            raise UserError(f"batch '{self.batch.id}' was closed meanwhile; what you recorded last was not written")
        return merged.text

    def findings(self) -> list[Finding]:
        """Judge the file as it stands in memory."""
        source = Overlay(self.here.source, {self.batch.file: self.text.encode("utf-8")})
        seen = Snapshot(source, self.here.store)
        record = seen.record("batches", self.batch.id)
        if record is None:
            return []
        findings = [*refused(record.facts, record.file, None)]
        findings += judge_record(RecordCase(record, seen, self.pins, self.day))
        return [seen.place(one) for one in findings]


def open_record(root: Path, here: Snapshot, batch: Batch, pins: PinnedVersions, day: datetime.date) -> OpenRecord:
    """Open the file of a batch to fill it in, as it lies on disk now.

    :raises UserError: it is a link, it is closed, or it cannot be read any more.
    """
    file = root / batch.file
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
    return OpenRecord(root, here, batch, formula, read.decode("utf-8"), pins, day, read)


def fill(opened: OpenRecord, facts: Iterable[Fact], *, replace: bool) -> None:
    """Fill facts in, in memory; what is there already, and says something else, only makes room for ``replace``.

    :raises UserError: it is filled in already, or cannot stand there.
    """
    for path, value in facts:
        known = opened.batch.facts.get(path)
        if known is not None and not replace and not _same(opened, path, value):
            raise UserError(f"'{'/'.join(path)}' is filled in already, {known}; --replace takes {value} in its place")
        opened.put(path, value)


def _same(opened: OpenRecord, path: tuple[str, ...], value: object) -> bool:
    """Say whether a fact says the same already."""
    text = fill_in(opened.text, path, value)
    return bool(facts_in(text).get(path) == opened.batch.facts.get(path))


def result_fact(opened: OpenRecord, name: str, value: str) -> Fact:
    """A measured result as a fact: under the spec's own spelling, and yes or no where the spec is in words.

    :raises UserError: the spec is in words, and the value is neither.
    """
    spec = {} if opened.formula is None else opened.formula.recipe.spec_lines
    right = next((known for known in spec if known.casefold() == name.casefold()), name)
    judged = conforms(value) if right in spec and spec[right].words else None
    if judged is None and right in spec and spec[right].words:
        raise UserError(f"--result: '{right}' is in words, {spec[right]}: write {right}=yes or {right}=no")
    return ("result", right), value if judged is None else judged


def lot_facts(opened: OpenRecord, key: str, lot: str) -> list[Fact]:
    """The lot of a charge, as a fact of each of its weighings.

    :raises UserError: the key is that of no charge, or of several.
    """
    charges = [charge for charge in opened.batch.charges if key in (charge.key, charge.ingredient)]
    if len(charges) != 1:
        many = "may be " + " or ".join(charge.key for charge in charges) if charges else "is no charge of this batch"
        raise UserError(f"--lot: '{key}' {many}")
    return [((*portion.path, "lot"), lot) for portion in charges[0].weighings]


def close(opened: OpenRecord, day: datetime.date) -> bool:
    """Close a record, in memory; False where something blocks it then: see `OpenRecord.findings`."""
    opened.put(("closed",), day)
    return not blocks(opened.findings())
