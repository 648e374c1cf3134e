"""What was judged before is not judged again: a verdict holds while every question that it asked has the same answer.

Nobody lists what a rule reads.  It is given a snapshot, pinned versions and a day that note each question, and the
verdict is kept with these questions, their answers, and the days between which no comparison ends otherwise.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import partial
from typing import Final, NamedTuple, Protocol

from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.model.asked_day import AskedDay
from formula_vcs.model.facts import Facts
from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Edit, PinnedVersion, Pins
from formula_vcs.workspace.asked_snapshot import AskedSnapshot, Question, answer, digest
from formula_vcs.workspace.many import FEW, Job, answers
from formula_vcs.workspace.settled import Moment, SettledFiles, read_settled, write_settled
from formula_vcs.workspace.snapshot import RECORDS, Snapshot
from formula_vcs.workspace.verdict_store import Kept, VerdictStore

_OF_GIT: Final = frozenset({"commit", "branch", "edits"})
_FEWEST: Final = 200  # files of a workspace; of fewer each verdict is looked up
_MOST_TOUCHED: Final = 0.2  # of all files: where more is touched, all are looked up, and that is kept


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
        self._given: list[tuple[str, str, Kept | None]] = []
        self._whole: Moment | None = None  # where git stands, in a check of everything that all is looked up for
        self._settled: SettledFiles | None = None
        self._touched: set[str] = set()

    def settle(self, repo: repository.Repo | None, *, whole: bool) -> None:
        """Find out which verdicts need not be looked up; of a ``whole`` workspace `settled` notes that otherwise."""
        if self._store is None or repo is None or len(self._snapshot.listing) < _FEWEST:
            return
        settled = read_settled(partial(self._store.part, self._folder))
        now = _moment(repo, self._snapshot)
        if settled is not None and settled.first <= self.day <= settled.last:
            moved = _moved(repo, settled.moment, now, self._folder)
            if moved is not None:
                here = self._contents()
                differing = settled.differing(here) | moved
                few = len(differing) <= _MOST_TOUCHED * len(here)
                touched = settled.touched(differing, here, partial(self._store.part, self._folder)) if few else None
                if touched is not None and len(touched) <= _MOST_TOUCHED * len(here):
                    self._settled, self._touched = settled, touched
                    self._store.gave(Kept(settled.first, settled.last, (), ()))
                    return
        self._whole = now if whole else None

    def _contents(self) -> dict[str, str]:
        return {path: self._snapshot.content_id(path) for path in self._snapshot.listing}

    def end(self) -> None:
        """Keep what the next check need not look up, after all of the workspace was judged."""
        if self._store is None or self._whole is None or self._snapshot.moved:
            return
        parts: dict[str, bytes] = {}
        with suppress(ValueError):  # a name that no text can hold
            write_settled(self._contents(), self._given, self._whole, parts.__setitem__)
            self._store.keep_parts(self._folder, parts)

    @property
    def follows(self) -> bool:
        """Say whether an earlier check settled most of what is judged here."""
        return self._settled is not None

    def settled(self, what: str, path: str) -> bool:
        """Say whether a file has nothing against it in one respect, and nothing that this hung on has changed."""
        row = None if self._settled is None or path in self._touched else self._settled.files.get(path)
        return row is not None and what in row.settled

    def never_asked(self, what: str, path: str) -> bool:
        """Say whether an earlier check had no reason to judge a file in one respect, and the file is the same."""
        row = None if self._settled is None or path in self._touched else self._settled.files.get(path)
        return row is not None and what not in row.settled and what not in row.asked

    def one_went(self) -> None:
        """Note that a file was there and is not: that is to be said again until it is back."""
        self._whole = None

    def none_went(self, kind: str) -> bool:
        """Say whether every file of a kind that an earlier check knew is there still."""
        if self._settled is None:
            return False
        return not any(path.startswith(f"{kind}/") and path not in self._snapshot.listing for path in self._touched)

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
        files = files if self._settled is None else {p: j for p, j in files.items() if not self.settled(what, p)}
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
        if self.settled(what, path):
            return ()
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
            self._note(what, path, found)
        return found

    def _take(self, what: str, path: str, verdict: FileVerdict) -> None:
        if self._store is not None:
            self._store.gave(verdict.kept)
            self._note(what, path, verdict.kept)
            if verdict.kept is not None:
                self._store.keep(self._folder, what, path, verdict.kept)

    def _note(self, what: str, path: str, kept: Kept | None) -> None:
        if self._whole is not None:
            self._given.append((what, path, kept))

    def unsure(self) -> None:
        """Note that something was said that hangs on more than the files here: it is asked anew each time."""
        if self._store is not None:
            self._store.gave(None)

    def expect(self, pins: PinsHere, records: Iterable[str]) -> None:
        """Ask git once about all commits that the verdicts kept on records name, where they have to be looked up."""
        if self._store is not None:
            if self._settled is None:
                names = self._store.named(self._folder, "branch")
            else:
                left = [path for path in records if not self.settled("record", path)]
                kept = (one for path in left for one in self._store.kept(self._folder, "record", path))
                names = {question[1] for one in kept for question, _ in one.asked if question[0] == "branch"}
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


def _moment(repo: repository.Repo, snapshot: Snapshot) -> Moment:
    """Say where git stands, as far as verdicts hang on it: where there is no record, none does."""
    if not any(snapshot.ids(kind) for kind in RECORDS):
        return Moment("", "", "")
    branch = repository.default_ref(repo) or ""
    tip: str = getattr(snapshot.source, "commit", "")
    return Moment(tip or _commit(repo, "HEAD"), branch, _commit(repo, branch))


def _commit(repo: repository.Repo, name: str) -> str:
    try:
        return repository.resolve(repo, name)
    except UserError:  # nothing is committed yet
        return ""


def _moved(repo: repository.Repo, old: Moment, new: Moment, folder: str) -> frozenset[str] | None:
    """Name the batches that commits since touched; None where history did not just go on."""
    if old.branch != new.branch or bool(old.tip) is not bool(new.tip):
        return None
    if any(was != now and not repository.follows(repo, was, now) for was, now in ((old[0], new[0]), (old[2], new[2]))):
        return None
    if old.tip == new.tip:
        return frozenset()
    under = f"{folder}/" if folder else ""
    paths = repository.touched_since(repo, old.tip, new.tip, f"{under}batches")
    return frozenset(path[len(under) :] for path in paths)
