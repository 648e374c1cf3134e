"""The versions that batches and proofs name: found by commit, read once, judged as they stood."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Self

from formula_vcs.changes.causes import all_findings
from formula_vcs.changes.record_edits import RecordEdits
from formula_vcs.errors import UserError
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.facts import Facts
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.repo import git
from formula_vcs.rules.batch_people import BatchEdited
from formula_vcs.rules.horizon import turning_days
from formula_vcs.rules.judge import judge_record
from formula_vcs.rules.rule import Edit, RecordCase
from formula_vcs.snapshot import RECORDS, Committed, Snapshot


@dataclass(frozen=True)
class Pinned:
    """One recipe at one commit; see ``rules.rule.PinnedVersion``."""

    state: str
    commit: str
    formula: Formula | None = None
    snapshot: Snapshot | None = None
    _judged: dict[datetime.date, list[Finding]] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def hash(self) -> str:
        """Give the content hash of the recipe there, empty where there is none."""
        return "" if self.formula is None else content_hash(self.formula.recipe, self.formula.premixes)

    def blocking(self, day: datetime.date) -> list[Finding]:
        """Give what blocked that version, judged as of a day."""
        if self.formula is None:
            return []
        # judged once between two days on which something turns, however many proofs there are
        since = max((turn for turn in self._turns if turn <= day), default=datetime.date.min)
        if since not in self._judged:
            self._judged[since] = [item for item in all_findings(self.formula, day) if item.severity == "block"]
        return self._judged[since]

    @cached_property
    def _turns(self) -> list[datetime.date]:
        return [] if self.formula is None else turning_days(self.formula)


class PinnedVersions:
    """Finds pinned versions in a repository.  Use it as a context manager: each commit stays open until its end."""

    def __init__(self, repo: git.Repo | None, folder: str, here: Snapshot | None = None) -> None:
        """Take the repository, None outside git, and the workspace's folder in it.

        ``here`` is the moment that is judged: the edits of its batches are looked for up to its commit, else HEAD.
        """
        self._here = here
        self._tip = getattr(here.source, "commit", "") if here is not None else ""
        self._edits: RecordEdits | None = None
        self._repo = repo
        self._folder = folder
        self._store = None if repo is None else git.Objects(repo)
        self._commits: dict[str, tuple[str, str, Snapshot | None]] = {}
        self._found: dict[tuple[str, str], Pinned] = {}
        self._held: dict[str, bool | None] = {}

    def __enter__(self) -> Self:
        """Give the finder itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of every commit that was read."""
        if self._store is not None:
            self._store.blobs.close()

    def at(self, commit: str, recipe: str) -> Pinned:
        """Give the version of a recipe at a commit id, in full or short."""
        if (commit, recipe) not in self._found:
            self._found[commit, recipe] = self._find(commit, recipe)
        return self._found[commit, recipe]

    def on_default_branch(self, commit: str) -> bool | None:
        """Say whether the default branch holds a commit; None where that cannot be known here."""
        if self._repo is None or self._store is None:
            return None
        oid = self._oid(commit) if git.is_id(commit) else ""
        if oid not in self._held:
            asked = sorted({oid, *self._named()} - self._held.keys() - {""})
            away = git.not_on_default_branch(self._repo, asked)
            unsure = None if git.is_shallow(self._repo) else False
            for name in asked:
                self._held[name] = None if away is None else unsure if name in away else True
        return self._held.get(oid)

    def _named(self) -> Iterator[str]:
        """Give the commits that the records here name, so that git is asked once about all of them."""
        here = self._here
        if here is None or self._held:
            return
        records = (here.record(kind, name) for kind in RECORDS for name in here.ids(kind))
        for path, value in (fact for record in records if record is not None for fact in record.facts.items()):
            if path[-1] == "commit" and isinstance(value, str) and git.is_id(value):
                yield self._oid(value)

    def _oid(self, name: str) -> str:
        try:
            return "" if self._store is None else self._store.commit(name)
        except UserError:  # several objects begin like that
            return ""

    def edits(self, file: str, facts: Facts) -> Iterator[Edit]:
        """Give the edits of a batch's file after it was closed; none where its history cannot be seen."""
        history = self._history()
        if history is not None:
            oid = "" if self._here is None else self._here.content_name(file)
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
            if not self._tip and git.has_commits(self._repo):
                self._tip = git.resolve(self._repo, "HEAD")
            if not self._tip:
                return None
            self._edits = RecordEdits(self._repo, f"{self._under}batches", self._store.blobs, self._tip)
        return self._edits

    def _find(self, commit: str, recipe: str) -> Pinned:
        state, oid, snapshot = self._commit(commit)
        if snapshot is None:
            return Pinned(state, oid)
        if recipe not in snapshot.ids("recipe"):
            return Pinned("no-recipe", oid, snapshot=snapshot)
        found = snapshot.recipe(recipe)
        if found is None:
            return Pinned("unreadable", oid, snapshot=snapshot)
        return Pinned("found", oid, snapshot.formula(found), snapshot)

    def _commit(self, commit: str) -> tuple[str, str, Snapshot | None]:
        if commit not in self._commits:
            self._commits[commit] = self._read(commit)
        return self._commits[commit]

    def _read(self, commit: str) -> tuple[str, str, Snapshot | None]:
        if self._repo is None or self._store is None:
            return "no-git", commit, None
        # a record names a commit by its id: a branch's name would mean another version tomorrow
        oid = self._oid(commit) if git.is_id(commit) else ""
        if not oid:
            return "shallow" if git.is_shallow(self._repo) else "unknown", commit, None
        if oid != commit and oid in self._commits:
            return self._commits[oid]
        source = Committed(self._repo, oid, self._folder, git.short_id(oid), self._store)
        self._commits[oid] = "found", oid, Snapshot(source)
        return self._commits[oid]


def judge_records(snapshot: Snapshot, repo: git.Repo | None, day: datetime.date) -> Iterator[Finding]:
    """Judge the batches, lots and evidence of a workspace."""
    with PinnedVersions(repo, snapshot.source.folder(), snapshot) as pins:
        for kind in RECORDS:
            for name in snapshot.ids(kind):
                record = snapshot.record(kind, name)
                if record is not None:
                    yield from judge_record(RecordCase(record, snapshot, pins, day))
        if snapshot.ids("batches"):
            yield from (BatchEdited.gone(path, edit) for path, edit in pins.gone(snapshot))
