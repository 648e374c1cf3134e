"""The versions that batches and proofs name: found by commit, read once, judged as they stood."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from functools import cached_property
from typing import Self

from formula_vcs.changes.causes import all_findings
from formula_vcs.errors import UserError
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.repo import git
from formula_vcs.rules.judge import judge_record
from formula_vcs.rules.rule import RecordCase
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
        if day not in self._judged:
            self._judged[day] = [item for item in all_findings(self.formula, day) if item.severity == "block"]
        return self._judged[day]


class PinnedVersions:
    """Finds pinned versions in a repository.  Use it as a context manager: each commit stays open until its end."""

    def __init__(self, repo: git.Repo | None, folder: str) -> None:
        """Take the repository, None outside git, and the workspace's folder in it."""
        self._repo = repo
        self._folder = folder
        self._open = ExitStack()
        self._commits: dict[str, tuple[str, str, Snapshot | None]] = {}
        self._found: dict[tuple[str, str], Pinned] = {}
        self._held: dict[str, bool | None] = {}

    def __enter__(self) -> Self:
        """Give the finder itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of every commit that was read."""
        self._open.close()

    def at(self, commit: str, recipe: str) -> Pinned:
        """Give the version of a recipe at a commit id, in full or short."""
        if (commit, recipe) not in self._found:
            self._found[commit, recipe] = self._find(commit, recipe)
        return self._found[commit, recipe]

    def on_default_branch(self, commit: str) -> bool | None:
        """Say whether the default branch holds a commit; None where that cannot be known here."""
        if commit not in self._held:
            self._held[commit] = None if self._repo is None else git.on_default_branch(self._repo, commit)
        return self._held[commit]

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
        if self._repo is None:
            return "no-git", commit, None
        try:
            # a record names a commit by its id: a branch's name would mean another version tomorrow
            oid = git.resolve(self._repo, commit) if git.is_id(commit) else ""
        except UserError:
            oid = ""
        if not oid:
            return "shallow" if git.is_shallow(self._repo) else "unknown", commit, None
        if oid != commit and oid in self._commits:
            return self._commits[oid]
        source = Committed(self._repo, oid, self._folder, git.short_id(oid))
        snapshot = self._open.enter_context(Snapshot(source))
        self._commits[oid] = "found", oid, snapshot
        return self._commits[oid]


def judge_records(snapshot: Snapshot, repo: git.Repo | None, day: datetime.date) -> Iterator[Finding]:
    """Judge the batches, lots and evidence of a workspace."""
    with PinnedVersions(repo, snapshot.source.folder()) as pins:
        for kind in RECORDS:
            for name in snapshot.ids(kind):
                record = snapshot.record(kind, name)
                if record is not None:
                    yield from judge_record(RecordCase(record, snapshot, pins, day))
