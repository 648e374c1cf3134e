"""A workspace as an editor sees it: the files on disk, and over them the texts that are open and not saved."""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Final

from formula_vcs.evidence.judge_workspace import judge_file, judge_workspace
from formula_vcs.git import repository
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.workspace.content_store import ContentStore
from formula_vcs.workspace.snapshot import (
    RECORDS,
    FileIndex,
    Refused,
    Snapshot,
    WorkTree,
    counting,
    id_of,
    kind_of,
)

_MOST_CHANGES: Final = (
    500  # after so many what was read of earlier texts is let go, or a long day would fill the memory
)
_KNOWN: Final = 4096  # files of the disk whose bytes are kept


class OpenFiles:
    """A source: what is open in an editor, else what lies on disk, read again only where it changed there."""

    label = "editor"

    def __init__(self, root: Path) -> None:
        """Take the workspace's folder."""
        self.disk = WorkTree(root)
        self.texts: dict[str, bytes] = {}
        self._names: dict[str, str] = {}
        self._listing: dict[str, str] | None = None
        self._read: dict[str, tuple[tuple[int, int, int], bytes | Refused, str]] = {}

    def put(self, path: str, text: str) -> None:
        """Lay a text over a file."""
        if path not in self.texts:
            self._listing = None
        self.texts[path] = text.encode("utf-8", "surrogatepass")
        self._names[path] = repository.blob_id(self.texts[path])

    def drop(self, path: str) -> None:
        """Take a text away: the file on disk counts again."""
        self.texts.pop(path, None)
        self._listing = None

    def moved(self) -> None:
        """Note that files on disk came or went."""
        self._listing = None

    def listing(self) -> Mapping[str, str]:
        """Give the files on disk and those that are open."""
        if self._listing is None:
            names = {*self.disk.listing(), *(path for path in self.texts if not _hidden(path))}
            self._listing = dict.fromkeys(sorted(names), "")
        return self._listing

    def unlisted(self) -> Mapping[str, str]:
        """Give what is not read below the folder."""
        return self.disk.unlisted()

    def folder(self) -> str:
        """Give no folder: an editor knows of no repository."""
        return ""

    def close(self) -> None:
        """Have nothing to let go of."""

    def name(self, path: str) -> str:
        """Name a content without reading it again."""
        return self._names[path] if path in self.texts else self._of_disk(path)[1]

    def read(self, path: str) -> bytes | Refused:
        """Give the bytes that count."""
        return self.texts[path] if path in self.texts else self._of_disk(path)[0]

    def _of_disk(self, path: str) -> tuple[bytes | Refused, str]:
        try:
            state = os.stat(self.disk.root / path)  # noqa: PTH116 - at every key stroke, of every file that counts
        except (OSError, ValueError):
            return self.disk.read(path), ""
        stamp = (state.st_mtime_ns, state.st_size, state.st_ino)
        known = self._read.get(path)
        if known is None or known[0] != stamp:
            if len(self._read) > _KNOWN:
                self._read.clear()
            data = self.disk.read(path)
            known = self._read[path] = (stamp, data, "" if isinstance(data, Refused) else repository.blob_id(data))
        return known[1], known[2]


def _hidden(path: str) -> bool:
    return any(part.startswith(".") for part in path.split("/")[:-1])


class Desk:
    """One workspace, its open texts, and what is said of them."""

    def __init__(self, root: Path) -> None:
        """Take the workspace's folder."""
        self.root = root
        self.source = OpenFiles(root)
        self._store = ContentStore()
        self._changes = 0
        self._index: tuple[Mapping[str, str], FileIndex] | None = None
        self._sound: dict[str, tuple[str, list[Finding]]] = {}  # the last text that parsed, and what was said of it
        self._formulas: dict[str, Formula] = {}

    def put(self, path: str, text: str) -> None:
        """Lay a text over a file."""
        self.source.put(path, text)
        self._changes += 1
        if self._changes % _MOST_CHANGES == 0:
            self._store = ContentStore()

    def drop(self, path: str) -> None:
        """Take a text away."""
        self.source.drop(path)
        self._sound.pop(path, None)
        self._formulas.pop(path, None)

    def text(self, path: str) -> str:
        """Give the text that counts, nothing where there is none."""
        data = self.source.read(path)
        return "" if isinstance(data, Refused) else data.decode("utf-8", "replace")

    def snapshot(self) -> Snapshot:
        """Give the workspace at this moment."""
        listing = self.source.listing()
        if self._index is None or self._index[0] is not listing:
            self._index = listing, FileIndex(counting(listing))
        return Snapshot(self.source, self._store, self._index[1])

    def judged(self, path: str, day: datetime.date) -> list[Finding]:
        """Say what a check would say of one file, each at its line.

        While a text does not parse, what was said of the last one that did stays at the lines that are still there.
        """
        snapshot = self.snapshot()
        if path not in snapshot.listing:
            return []
        found = [snapshot.place(finding) for finding in judge_file(snapshot, path, day)]
        read = snapshot.read(path)
        text = self.text(path)
        if read.whole:
            self._sound[path] = text, found
            return found
        if path in self._sound:
            found += _still_there(*self._sound[path], text, {finding.line for finding in found})
        return found

    def apart(self) -> Snapshot:
        """Give the workspace at this moment, for another thread: nothing of it is shared with what goes on here."""
        source = OpenFiles(self.root)
        for path in self.source.texts:
            source.put(path, self.text(path))
        return Snapshot(source, ContentStore())

    def settled(self, snapshot: Snapshot, path: str, day: datetime.date) -> list[Finding]:
        """Say what only the whole workspace tells of a file: records against history, names that look alike."""
        try:
            repo = repository.open_repo(self.root)
        except Exception:  # noqa: BLE001 - where there is no repository, or none that can be read, the rest counts
            repo = None
        records = kind_of(path) in RECORDS
        known = set(judge_file(snapshot, path, day))
        found = judge_workspace(snapshot, day, repo, recipes=(), records=records)
        return [snapshot.place(finding) for finding in found if finding.file == path and finding not in known]

    def formula(self, path: str) -> Formula | None:
        """Give a recipe with all it rests on: as it is, or as it was when it last parsed."""
        snapshot = self.snapshot()
        if kind_of(path) == "recipe" and path in snapshot.listing:
            read = snapshot.read(path)
            if read.whole:
                self._formulas[path] = snapshot.formula_of(id_of(path), path, read)
        return self._formulas.get(path)

    def resting_on(self, path: str) -> Iterator[str]:
        """Give the open files whose findings may hang on a file."""
        for other in list(self.source.texts):
            if other != path and kind_of(path) != "recipe" and kind_of(other) in ("recipe", *RECORDS):
                yield other


def _still_there(old: str, findings: Iterable[Finding], new: str, taken: set[int]) -> Iterator[Finding]:
    """Give what was said of lines that stand in the new text unchanged, where they stand now."""
    before, after = old.split("\n"), new.split("\n")
    shift = len(after) - len(before)
    for finding in findings:
        if finding.line > len(before):
            continue
        line = before[finding.line - 1]
        for at in (finding.line, finding.line + shift):
            if 0 < at <= len(after) and after[at - 1] == line and at not in taken:
                yield finding.placed(at, finding.column)
                break
