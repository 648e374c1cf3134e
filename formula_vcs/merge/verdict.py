"""Judge a merged file among the others of its workspace: it must not break what neither side broke."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator

from formula_vcs.git.repository import Repo
from formula_vcs.merge.affected import affected
from formula_vcs.merge.three_way import ThreeWay
from formula_vcs.model.finding import Finding, worst_first
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass
from formula_vcs.rules.judge import judge, judge_ingredient, judge_record
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.registry import RULES
from formula_vcs.rules.rule import RecordCase
from formula_vcs.workspace.snapshot import RECORDS, Snapshot, id_of, kind_of, refused


@dataclass(frozen=True)
class MergeStop:
    """What a merge breaks that neither side broke, and the edits of both sides that do it together."""

    finding: Finding
    ours: tuple[str, ...]
    theirs: tuple[str, ...]


@dataclass(frozen=True)
class Bench:
    """Where a file is judged: ``at`` gives the workspace with the file as some bytes (None: without it)."""

    at: Callable[[bytes | None], Snapshot]
    path: str
    day: datetime.date
    repo: Repo | None = None


def verdict(bench: Bench, versions: ThreeWay[bytes | None], merged: bytes) -> MergeStop | None:
    """Judge a merged file; None where it breaks nothing that neither side breaks."""
    after = bench.at(merged)
    broken = [finding for finding in findings(after, bench) if finding.severity == "block"]
    if not broken:
        return None
    known = [
        finding
        for side in (versions.ours, versions.theirs)
        for finding in findings(bench.at(side), bench)
        if finding.severity == "block"
    ]
    broken_before = {finding.fingerprint for finding in known}
    sums = [finding for finding in known if isinstance(RULES[finding.rule], PackRule)]
    news = (
        finding
        for finding in broken
        if finding.fingerprint not in broken_before and not any(_fewer(other, finding) for other in sums)
    )
    fresh = sorted((after.place(finding) for finding in news), key=worst_first)
    if not fresh:
        return None
    from formula_vcs.merge.merge_edits import edits

    return MergeStop(fresh[0], *edits(bench, versions, after, fresh[0]))


def _fewer(known: Finding, finding: Finding) -> bool:
    """Say whether a version broke the same limit of a sum already, with fewer of the substances that it counts."""
    if (known.rule, known.recipe) != (finding.rule, finding.recipe):
        return False
    # the subject of a row of a pack is its id and the substances
    (row, *fewer), (other, *more) = known.subject.split("/"), finding.subject.split("/")
    return row == other and bool(fewer) and set(fewer) < set(more)


def findings(snapshot: Snapshot, bench: Bench) -> Iterator[Finding]:
    """Judge one file, and the recipes that it is felt in."""
    path = bench.path
    if path not in snapshot.listing:
        return
    kind = kind_of(path)
    read = snapshot.read(path)
    yield from read.findings
    if kind != "recipe":  # a recipe's rules say what was refused in it
        yield from refused(read.facts, path, None)
    if kind == "ingredients":
        ingredient = snapshot.ingredient(id_of(path))
        if ingredient is not None:
            yield from judge_ingredient(ingredient, snapshot.workspace)
    if kind == "rules":
        from formula_vcs.rules.chemistry.incompatible import judge_house_pairs
        from formula_vcs.rules.law.house import judge_house

        yield from judge_house(snapshot.workspace)
        yield from judge_house_pairs(snapshot.workspace)
    if kind in RECORDS:
        yield from _record(snapshot, bench)
    for recipe in affected(snapshot, path):
        yield from _of_formula(snapshot.formula(recipe), bench.day)


def _of_formula(formula: Formula, day: datetime.date) -> Iterator[Finding]:
    yield from judge(formula, day)
    for ingredient in formula.ingredients.values():
        yield from judge_ingredient(ingredient, formula.workspace)


def _record(snapshot: Snapshot, bench: Bench) -> Iterator[Finding]:
    from formula_vcs.evidence.pinned_versions import (
        PinnedVersions,  # what a recipe does not need, its merge does not load
    )

    record = snapshot.record(kind_of(bench.path), id_of(bench.path))
    if record is not None:
        with PinnedVersions(bench.repo, snapshot.source.folder(), store=snapshot.store) as pins:
            yield from judge_record(RecordCase(record, snapshot, pins, bench.day))
