"""The versions that batches and proofs name: found by commit, read once, judged as they stood."""

from __future__ import annotations

import datetime
import posixpath
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import cached_property, partial
from typing import Final, NamedTuple, Self

from formula_vcs.diff.record_edits import RecordEdits
from formula_vcs.errors import UserError
from formula_vcs.evidence.approved_batches import approvals_of_batches, wants_approvals
from formula_vcs.evidence.pinned_cache import JudgedVersion
from formula_vcs.evidence.verdicts import FileVerdict, Judge, Verdicts, judging
from formula_vcs.git import repository
from formula_vcs.model.facts import Facts
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass, field
from formula_vcs.rules.judge import judge_record
from formula_vcs.rules.records.batch_people import BatchEdited
from formula_vcs.rules.rule import Edit, Pins, RecordCase
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.workspace.content_store import ContentStore
from formula_vcs.workspace.snapshot import RECORDS, WORKSPACE_FILE, Committed, Refused, Snapshot

_NAMED: Final = late_pattern(rb"^[ \t]*commit[ \t]*=[ \t]*[\"']([0-9a-f]{7,64})[\"']", re.MULTILINE)
_AUTHORED: Final = late_pattern(rb"^author [^\n]*> (-?\d{1,12})(?: [-+]\d{4})?$", re.MULTILINE)
MOST_WORKSPACES: Final = 100  # in which a recipe is looked for, where its workspace had another folder


@dataclass(frozen=True)
class Pinned:
    """One recipe at one commit; see ``rules.rule.PinnedVersion``."""

    state: str
    commit: str
    formula: Formula | None = None
    snapshot: Snapshot | None = None
    shared: JudgedVersion | None = field(default=None, repr=False, compare=False)
    day: datetime.date | None = None

    @cached_property
    def _held(self) -> JudgedVersion | None:
        return self.shared or (None if self.formula is None else JudgedVersion(self.formula))

    @property
    def hash(self) -> str:
        """Give the content hash of the recipe there, empty where there is none."""
        return "" if self._held is None else self._held.hash

    def blocking(self, day: datetime.date) -> list[Finding]:
        """Give what blocked that version, judged as of a day."""
        return [] if self._held is None else self._held.blocking(day)


class PinnedVersions:
    """Finds pinned versions in a repository.  Use it as a context manager: each commit stays open until its end."""

    def __init__(
        self,
        repo: repository.Repo | None,
        folder: str,
        here: Snapshot | None = None,
        store: ContentStore | None = None,
    ) -> None:
        """Take the repository, None outside git, and the workspace's folder in it.

        ``here`` is the moment that is judged: the edits of its batches are looked for up to its commit, else HEAD.
        ``store`` is what was read already, that of ``here`` where none is given.
        """
        self._here = here
        self._contents = store or (ContentStore() if here is None else here.store)
        self._tip = getattr(here.source, "commit", "") if here is not None else ""
        self._edits: RecordEdits | None = None
        self._repo = repo
        self._folder = folder
        self._store = None if repo is None else repository.Objects(repo)
        self._commits: dict[str, tuple[str, str, Snapshot | None]] = {}
        self._found: dict[tuple[str, str], Pinned] = {}
        self._oids: dict[str, str] = {}
        self._versions: dict[str, list[JudgedVersion]] = {}
        self._held: dict[str, bool | None] = {}
        self._others: dict[str, list[Snapshot]] = {}
        self.singly = False  # most records are known already: git is asked about the commits of one, not of all

    def __enter__(self) -> Self:
        """Give the finder itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of every commit that was read."""
        if self._store is not None:
            self._store.blobs.close()

    def know(self, formula: Formula, snapshot: Snapshot) -> None:
        """Take a formula as it was read elsewhere: a commit that holds the same files need not be read for it."""
        self._versions.setdefault(formula.recipe.id, []).append(JudgedVersion(formula, snapshot))

    def at(self, commit: str, recipe: str) -> Pinned:
        """Give the version of a recipe at a commit id, in full or short."""
        if (commit, recipe) not in self._found:
            self._found[commit, recipe] = self._find(commit, recipe)
        return self._found[commit, recipe]

    def full_id(self, commit: str) -> str:
        """Give the full id of a commit that is here, named by its id in full or short; empty where there is none."""
        return self._oid(commit) if repository.is_id(commit) else ""

    def look_for(self, commits: Iterable[str]) -> None:
        """Ask git once which of some commits (full ids of commits that are here) the default branch holds."""
        asked = sorted(set(commits) - self._held.keys() - {""})
        if self._repo is None or not asked:
            return
        away = repository.not_on_default_branch(self._repo, asked)
        unsure = None if repository.is_shallow(self._repo) else False
        for name in asked:
            self._held[name] = None if away is None else unsure if name in away else True

    def on_default_branch(self, commit: str) -> bool | None:
        """Say whether the default branch holds a commit; None where that cannot be known here."""
        if self._repo is None or self._store is None:
            return None
        oid = self.full_id(commit)
        if oid not in self._held:
            self.look_for((oid, *self._named()))
        return self._held.get(oid)

    def _named(self) -> Iterator[str]:
        """Give the commits that the records here name, so that git is asked once about all of them."""
        here = self._here
        if here is None or self._held or self.singly:
            return
        named: set[bytes] = set()
        for path in (path for kind in RECORDS for path in here.ids(kind).values()):
            data = here.source.read(path)  # one that is written otherwise is asked for by itself
            named.update(() if isinstance(data, Refused) else _NAMED.findall(data))
        yield from (self._oid(name.decode("ascii")) for name in sorted(named))

    def _oid(self, name: str) -> str:
        if name not in self._oids:
            try:
                self._oids[name] = "" if self._store is None else self._store.commit(name)
            except UserError:  # several objects begin like that
                self._oids[name] = ""
        return self._oids[name]

    def edits(self, file: str, facts: Facts) -> Iterator[Edit]:
        """Give the edits of a batch's file after it was closed; none where its history cannot be seen."""
        yield from self.edits_of(file, lambda: facts)

    def edits_of(self, file: str, facts: Callable[[], Facts]) -> Iterator[Edit]:
        """Give the edits of a batch's file after it was closed; what it says now is read only where that matters."""
        history = self._history()
        if history is not None:
            oid = "" if self._here is None else self._here.content_id(file)
            yield from history.of(f"{self._under}{file}", facts, oid=oid)

    def gone(self, here: Snapshot) -> Iterator[tuple[str, Edit]]:
        """Give the batches that were closed and are not in a snapshot any more, each with what took it away."""
        history = self._history()
        if history is not None:
            there = frozenset(f"{self._under}{path}" for path in here.ids("batches").values())
            for path, edit in history.gone(there):
                yield path[len(self._under) :], edit

    @property
    def _under(self) -> str:
        return f"{self._folder}/" if self._folder else ""

    def _history(self) -> RecordEdits | None:
        if self._repo is None or self._store is None:
            return None
        if self._edits is None:
            try:
                self._tip = self._tip or repository.resolve(self._repo, "HEAD")
            except UserError:  # nothing is committed yet
                return None
            self._edits = RecordEdits(self._repo, f"{self._under}batches", self._store.blobs, self._tip)
        return self._edits

    def _find(self, commit: str, recipe: str) -> Pinned:
        state, oid, snapshot = self._commit(commit)
        if snapshot is None:
            return Pinned(state, oid)
        if recipe not in snapshot.ids("recipe"):
            elsewhere = [other for other in self._elsewhere(oid, snapshot) if recipe in other.ids("recipe")]
            if len(elsewhere) != 1:
                return Pinned("no-recipe", oid, snapshot=snapshot)
            snapshot = elsewhere[0]
        known = self._versions.setdefault(recipe, [])
        held = next((one for one in reversed(known) if one.fits(snapshot)), None)
        if held is None:
            found = snapshot.recipe(recipe)
            if found is None:
                return Pinned("unreadable", oid, snapshot=snapshot)
            held = JudgedVersion(snapshot.formula(found), snapshot)
            known.append(held)
        return Pinned("found", oid, held.formula, snapshot, held, self._day(oid))

    def _day(self, oid: str) -> datetime.date | None:
        """Give the author's day of a commit: when the version was there; None where the commit says none."""
        found = None if self._store is None else self._store.blobs.object(oid)
        stated = None if found is None else _AUTHORED.search(found.data)
        if stated is None:
            return None
        try:
            return datetime.datetime.fromtimestamp(int(stated[1]), tz=datetime.UTC).date()
        except (OverflowError, ValueError, OSError):  # a damaged commit may say any number
            return None

    def _elsewhere(self, oid: str, here: Snapshot) -> list[Snapshot]:
        """Give the workspaces of a commit where this one's folder was none yet: it may have had another name."""
        if self._repo is None or self._store is None or WORKSPACE_FILE in here.listing:
            return []
        if oid not in self._others:
            paths = (posixpath.split(entry.path) for entry in self._store.entries(oid, ""))
            folders = sorted(folder for folder, name in paths if name == WORKSPACE_FILE)[:MOST_WORKSPACES]
            label = repository.short_id(oid)
            self._others[oid] = [
                Snapshot(Committed(self._repo, oid, folder, label, self._store), self._contents) for folder in folders
            ]
        return self._others[oid]

    def _commit(self, commit: str) -> tuple[str, str, Snapshot | None]:
        if commit not in self._commits:
            self._commits[commit] = self._read(commit)
        return self._commits[commit]

    def _read(self, commit: str) -> tuple[str, str, Snapshot | None]:
        if self._repo is None or self._store is None:
            return "no-git", commit, None
        # a record names a commit by its id: a branch's name would mean another version tomorrow
        oid = self._oid(commit) if repository.is_id(commit) else ""
        if not oid:
            return "shallow" if repository.is_shallow(self._repo) else "unknown", commit, None
        if oid != commit and oid in self._commits:
            return self._commits[oid]
        source = Committed(self._repo, oid, self._folder, repository.short_id(oid), self._store)
        self._commits[oid] = "found", oid, Snapshot(source, self._contents)
        return self._commits[oid]


class RecordsElsewhere(NamedTuple):
    """Judging records in other processes; each finds pinned versions by itself."""

    snapshot: Snapshot
    repo: repository.Repo | None
    day: datetime.date

    @contextmanager
    def opened(self) -> Iterator[Callable[[tuple[str, Judge]], FileVerdict]]:
        """Give what judges one record."""
        with self.snapshot, PinnedVersions(self.repo, self.snapshot.source.folder(), self.snapshot) as pins:
            yield judging(self.snapshot, self.day, pins)


def judge_records(
    snapshot: Snapshot,
    repo: repository.Repo | None,
    day: datetime.date,
    verdicts: Verdicts | None = None,
    progress: Callable[[int, int], None] = lambda _done, _of: None,
) -> Iterator[Finding]:
    """Judge the batches, lots and evidence of a workspace."""
    with PinnedVersions(repo, snapshot.source.folder(), snapshot) as pins:
        known = verdicts or Verdicts(None, snapshot, day)
        pins.singly = known.follows
        records = {path: partial(_record, kind, name) for kind in RECORDS for name, path in snapshot.ids(kind).items()}
        known.expect(pins, records)
        known.ahead("record", records, RecordsElsewhere(snapshot, repo, day), progress, pins)
        for path, judge in records.items():
            yield from known.judged("record", path, judge, pins)
        if snapshot.ids("evidence"):
            from formula_vcs.evidence.claim_proofs import judge_claim_proofs

            yield from judge_claim_proofs(snapshot, known, pins)
        if snapshot.ids("batches"):
            if repo is not None and wants_approvals(snapshot):
                known.unsure()
                yield from approvals_of_batches(snapshot, repo, pins, day)
            yield from _gone(snapshot, known, pins)


def _gone(snapshot: Snapshot, known: Verdicts, pins: PinnedVersions) -> Iterator[Finding]:
    """Warn of closed batches that are gone; the history is not asked where each that was there is there still."""
    if known.none_went("batches"):
        return
    for path, edit in pins.gone(snapshot):
        known.one_went()
        yield BatchEdited.gone(path, edit)


def _record(kind: str, name: str, snapshot: Snapshot, day: datetime.date, pins: Pins) -> Iterable[Finding]:
    record = snapshot.record(kind, name)
    return () if record is None else judge_record(RecordCase(record, snapshot, pins, day))
