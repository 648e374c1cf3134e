"""Judge a whole workspace: every file of it, whatever is wrong with the others."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Iterator
from functools import partial

from formula_vcs.approvals.trust import contradictions
from formula_vcs.evidence.look_alikes import look_alikes
from formula_vcs.evidence.verdicts import Elsewhere, Verdicts
from formula_vcs.git.repository import Repo
from formula_vcs.model.approval import TRUST_FILE
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.rules.judge import judge, judge_ingredient
from formula_vcs.rules.rule import Pins
from formula_vcs.toml.takers import ID
from formula_vcs.workspace.snapshot import RECORDS, Snapshot, id_of, kind_of, refused
from formula_vcs.workspace.verdict_store import VerdictStore


def judge_workspace(
    snapshot: Snapshot,
    day: datetime.date,
    repo: Repo | None = None,
    progress: Callable[[int, int], None] = lambda _done, _of: None,
    *,
    recipes: Collection[str] | None = None,
    records: bool = True,
    store: VerdictStore | None = None,
) -> Iterator[Finding]:
    """Judge every file of a workspace, whatever is wrong with the others.

    ``repo`` is where the versions are found that batches and proofs name.  ``progress`` is told how many files are
    judged, and of how many: on all cores first where they are many, then the recipes one by one.  ``recipes`` are the
    ids of those that are wanted, all where it is None; ``records`` says whether batches, lots and evidence are.
    ``store`` remembers verdicts; without one everything is judged.
    """
    known = Verdicts(store, snapshot, day)
    known.settle(repo, whole=recipes is None and records)
    for path, earlier in snapshot.twins.items():
        words = f"the id '{id_of(path)}' is taken already, by {', '.join(earlier)}"
        yield Finding("duplicate-id", "block", words, path, line=1, column=1, subject=path)
    yield from _twice(snapshot)
    yield from look_alikes(snapshot, repo)
    yield from _files(snapshot, known, progress)
    if snapshot.ids("rules"):
        from formula_vcs.rules.chemistry.incompatible import judge_house_pairs
        from formula_vcs.rules.law.house import judge_house, judge_house_duties

        yield from judge_house(snapshot.workspace)
        yield from judge_house_duties(snapshot.workspace)
        yield from judge_house_pairs(snapshot.workspace)
    if records and any(snapshot.ids(kind) for kind in RECORDS):
        from formula_vcs.evidence.pinned_versions import judge_records

        yield from judge_records(snapshot, repo, day, known, progress)
    paths = [path for path in snapshot.listing if kind_of(path) == "recipe"]
    wanted = [path for path in paths if recipes is None or id_of(path) in recipes]
    judges = {path: partial(_recipe, path) for path in wanted}
    known.ahead("recipe", judges, Elsewhere(snapshot, day), progress)
    for done, (path, judge_it) in enumerate(judges.items()):
        progress(done, len(judges))
        yield from known.judged("recipe", path, judge_it)
    known.end()


def _twice(snapshot: Snapshot) -> Iterator[Finding]:
    """Say of each file whose id others take again that they do: whoever checks it alone is told too."""
    takers: dict[str, list[str]] = {}
    for path, earlier in snapshot.twins.items():
        takers.setdefault(earlier[0], []).append(path)
    for path, later in takers.items():
        words = f"the id '{id_of(path)}' is taken again, by {', '.join(later)}"
        yield Finding("duplicate-id", "block", words, path, line=1, column=1, subject=path)


def judge_file(snapshot: Snapshot, path: str, day: datetime.date) -> Iterator[Finding]:
    """Judge one file alone, as an editor asks at each key stroke: without what would mend it, without its history.

    All else that `judge_workspace` says of it is said here.
    """
    if path in snapshot.twins:
        words = f"the id '{id_of(path)}' is taken already, by {', '.join(snapshot.twins[path])}"
        yield Finding("duplicate-id", "block", words, path, line=1, column=1, subject=path)
    yield from (finding for finding in _twice(snapshot) if finding.file == path)
    if kind_of(path) != "recipe":
        yield from _file(path, snapshot, day, None)
        return
    yield from _bad_stem(path)
    read, name = snapshot.read(path), id_of(path)
    yield from (replace(finding, recipe=name) for finding in read.findings)
    if read.whole:
        yield from judge(snapshot.formula_of(name, path, read), day)


def _files(snapshot: Snapshot, known: Verdicts, progress: Callable[[int, int], None]) -> Iterator[Finding]:
    judged = [path for path in snapshot.listing if kind_of(path) not in ("link", "recipe")]
    known.ahead("file", {path: partial(_file, path) for path in judged}, Elsewhere(snapshot, known.day), progress)
    for path in snapshot.listing:
        kind = kind_of(path)
        if kind == "link":
            yield from snapshot.read(path).findings
        elif kind != "recipe":
            yield from known.judged("file", path, partial(_file, path))


def _file(path: str, snapshot: Snapshot, _day: datetime.date, _pins: Pins | None) -> Iterator[Finding]:
    yield from _bad_stem(path)
    if kind_of(path) == "ingredients":
        ingredient = snapshot.ingredient(id_of(path))
        if ingredient is not None and ingredient.file == path:
            yield from snapshot.read(path).findings
            yield from judge_ingredient(ingredient, snapshot.workspace)
            return
    read = snapshot.read(path)
    yield from read.findings
    yield from refused(read.facts, path, None)
    if path == TRUST_FILE and read.whole:
        for words in contradictions(read.facts):
            said = f"nobody is judged by it: {words}"
            yield Finding("bad-value", "block", said, path, line=1, column=1, subject=words)


def _recipe(path: str, snapshot: Snapshot, day: datetime.date, _pins: Pins | None) -> Iterator[Finding]:
    yield from _bad_stem(path)
    read = snapshot.read(path)
    name = id_of(path)
    yield from (replace(finding, recipe=name) for finding in read.findings)
    if read.whole:
        formula = snapshot.formula_of(name, path, read)
        yield from _with_mends(judge(formula, day), formula, day)


def _with_mends(findings: list[Finding], formula: Formula, day: datetime.date) -> list[Finding]:
    """Look for what would mend findings; nothing is loaded for it where nothing is wrong."""
    if all(finding.severity == "note" for finding in findings):
        return findings
    from formula_vcs.mending.mend import mended

    return mended(findings, formula, day)


def _bad_stem(path: str) -> Iterator[Finding]:
    stem = id_of(path)
    if not ID.fullmatch(stem):
        words = f"'{path}': a file's name is its id; lower case letters, digits and hyphens make one"
        yield Finding("bad-id", "block", words, path, line=1, column=1, subject="stem")
