"""What was judged before is not judged again: a verdict holds while every question that it asked has the same answer.

Nobody lists what a rule reads.  It is given a snapshot, pinned versions and a day that note each question, and the
verdict is kept with these questions, their answers, and the days between which no comparison ends otherwise.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from typing import Final, NamedTuple, Protocol

from formula_vcs.model.asked_day import AskedDay
from formula_vcs.model.facts import Facts
from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Edit, PinnedVersion, Pins
from formula_vcs.workspace.asked_snapshot import AskedSnapshot, Question, answer, digest
from formula_vcs.workspace.many import FEW, Job, answers
from formula_vcs.workspace.snapshot import Snapshot
from formula_vcs.workspace.verdict_store import Kept, VerdictStore

_OF_GIT: Final = frozenset({"commit", "branch", "edits"})


class PinsHere(Pins, Protocol):
    """Pinned versions, and what tells whether they would answer as before."""

    def edits_of(self, file: str, facts: Callable[[], Facts]) -> Iterator[Edit]:
        """Give the edits of a batch's file; what it says now is read only where that matters."""
        ...

    def full_id(self, commit: str) -> str:
        """Give the full id of a commit that is here."""
        ...

    def look_for(self, commits: Iterable[str]) -> None:
        """Ask git once about the default branch."""
        ...


# Judges a file of a snapshot as of a day; only records name versions.
Judge = Callable[[Snapshot, datetime.date, Pins | None], Iterable[Finding]]


class AskedPins:
    """Pinned versions that note what they were asked.

    A version that was found is what its commit says, for ever; one that was not may be found tomorrow, and a verdict
    on that does not ``last``.
    """

    def __init__(self, under: PinsHere, snapshot: Snapshot) -> None:
        """Take the pinned versions below, and the moment that they are asked from."""
        self._under = under
        self._snapshot = snapshot
        self.asked: dict[Question, str] = {}
        self.lasts = True

    def at(self, commit: str, recipe: str) -> PinnedVersion:
        """Give the version of a recipe at a commit id, in full or short."""
        found = self._under.at(commit, recipe)
        self.lasts = self.lasts and found.state == "found"
        self._note(("commit", commit))
        return found

    def on_default_branch(self, commit: str) -> bool | None:
        """Say whether the default branch holds a commit."""
        self._note(("branch", commit))
        return self._under.on_default_branch(commit)

    def edits(self, file: str, facts: Facts) -> Iterator[Edit]:
        """Give the edits of a batch's file after it was closed."""
        self._note(("edits", file))
        return self._under.edits(file, facts)

    def _note(self, question: Question) -> None:
        self.asked[question] = _of_git(self._under, self._snapshot, question)


def _of_git(pins: PinsHere, snapshot: Snapshot, question: Question) -> str:
    kind, about = question
    if kind == "commit":
        return pins.full_id(about)
    if kind == "branch":
        return str(pins.on_default_branch(about))
    return digest(list(pins.edits_of(about, lambda: snapshot.read(about).facts)))


class FileVerdict(NamedTuple):
    """What was found, and the same as it may be kept; None where it may not."""

    findings: tuple[Finding, ...]
    kept: Kept | None


def fresh(snapshot: Snapshot, day: datetime.date, pins: PinsHere | None, judge: Judge) -> FileVerdict:
    """Judge a file, and note what that hung on."""
    seen, on = AskedSnapshot(snapshot), AskedDay(day)
    asked = None if pins is None else AskedPins(pins, snapshot)
    findings = tuple(judge(seen, on, asked))
    if not seen.lasts or snapshot.moved or (asked is not None and not asked.lasts):
        return FileVerdict(findings, None)
    questions = seen.asked if asked is None else seen.asked | asked.asked
    return FileVerdict(findings, Kept(on.first, on.last, tuple(questions.items()), findings))


class Elsewhere(NamedTuple):
    """Judging the files of a moment in other processes; see `workspace.many`."""

    snapshot: Snapshot
    day: datetime.date

    @contextmanager
    def opened(self) -> Iterator[Callable[[tuple[str, Judge]], FileVerdict]]:
        """Give what judges one file."""
        with self.snapshot:
            yield partial(_elsewhere, self.snapshot, self.day, None)


def judging(snapshot: Snapshot, day: datetime.date, pins: PinsHere) -> Callable[[tuple[str, Judge]], FileVerdict]:
    """Give what judges one file that names versions."""
    return partial(_elsewhere, snapshot, day, pins)


def _elsewhere(snapshot: Snapshot, day: datetime.date, pins: PinsHere | None, item: tuple[str, Judge]) -> FileVerdict:
    return fresh(snapshot, day, pins, item[1])


class Verdicts:
    """The verdicts on the files of one moment on one day."""

    def __init__(self, store: VerdictStore | None, snapshot: Snapshot, day: datetime.date) -> None:
        """Take the store, None to judge everything, the moment and the day."""
        self._store = store
        self._snapshot = snapshot
        self._folder = snapshot.source.folder()
        self.day = day
        self._answers: dict[Question, str] = {}
        self._ready: dict[tuple[str, str], tuple[Finding, ...]] = {}

    def ahead(
        self,
        what: str,
        files: Mapping[str, Judge],
        job: Job[tuple[str, Judge], FileVerdict],
        progress: Callable[[int, int], None],
        pins: PinsHere | None = None,
    ) -> None:
        """Judge many files on all cores, those of which no verdict holds; `judged` then has them.

        ``files`` are their paths, each with what judges it; of a few nothing is done.  ``job`` judges in another
        process.  What is judged is kept at once: whoever stops this begins there again.
        """
        if len(files) <= FEW:
            return
        missing: list[tuple[str, Judge]] = []
        for path, judge in files.items():
            kept = self._kept(what, path, pins)
            if kept is None:
                missing.append((path, judge))
            else:
                self._ready[what, path] = kept.findings
        if len(missing) <= FEW:
            return
        for done, ((path, _), verdict) in enumerate(zip(missing, answers(job, missing, few=FEW), strict=True)):
            progress(done, len(missing))
            self._take(what, path, verdict)
            self._ready[what, path] = verdict.findings

    def judged(self, what: str, path: str, judge: Judge, pins: PinsHere | None = None) -> Iterable[Finding]:
        """Judge a file in one respect, or give what was said of it where nothing that was asked has changed."""
        if (what, path) in self._ready:
            return self._ready.pop((what, path))
        if self._store is None:
            return judge(self._snapshot, self.day, pins)
        kept = self._kept(what, path, pins)
        if kept is not None:
            return kept.findings
        verdict = fresh(self._snapshot, self.day, pins, judge)
        self._take(what, path, verdict)
        return verdict.findings

    def _kept(self, what: str, path: str, pins: PinsHere | None) -> Kept | None:
        """Give a verdict that holds, None where there is none."""
        if self._store is None:
            return None
        held = (one for one in self._store.kept(self._folder, what, path) if self._holds(one, pins))
        found = next(held, None)
        if found is not None:
            self._store.gave(found)
        return found

    def _take(self, what: str, path: str, verdict: FileVerdict) -> None:
        if self._store is not None:
            self._store.gave(verdict.kept)
            if verdict.kept is not None:
                self._store.keep(self._folder, what, path, verdict.kept)

    def unsure(self) -> None:
        """Note that something was said that hangs on more than the files here: it is asked anew each time."""
        if self._store is not None:
            self._store.gave(None)

    def expect(self, pins: PinsHere) -> None:
        """Ask git once about all commits that the verdicts kept on records name."""
        if self._store is not None:
            names = self._store.named(self._folder, "branch")
            pins.look_for([oid for oid in map(pins.full_id, names) if oid])

    def _holds(self, kept: Kept, pins: PinsHere | None) -> bool:
        if not kept.first <= self.day <= kept.last:
            return False
        try:
            return all(self._answer(question, pins) == said for question, said in kept.asked)
        except (KeyError, IndexError, ValueError):  # no question that anybody here asks
            return False

    def _answer(self, question: Question, pins: PinsHere | None) -> str | None:
        if question not in self._answers:
            if question[0] not in _OF_GIT:
                self._answers[question] = answer(self._snapshot, question)
            elif pins is not None:
                self._answers[question] = _of_git(pins, self._snapshot, question)
        return self._answers.get(question)
