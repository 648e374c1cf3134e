"""Judge a merged file among the others of its workspace: it must not break what neither side broke."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator

from formula_vcs.git.repository import Repo
from formula_vcs.merge.three_way import ThreeWay
from formula_vcs.model.finding import Finding, worst_first
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.rules.judge import judge, judge_ingredient, judge_record
from formula_vcs.rules.law.allowed_substances import PackRule
from formula_vcs.rules.registry import RULES
from formula_vcs.rules.rule import RecordCase
from formula_vcs.workspace.snapshot import RECORDS, Refused, Snapshot, id_of, kind_of, refused

# --- Judge a merged file among the others of its workspace: it must not break what neither side broke


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
    from formula_vcs.merge.merge_facts import edits

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


# --- Which recipes a file of the workspace is felt in: the recipe itself, and those that use it at any depth


def affected(snapshot: Snapshot, path: str) -> Iterator[Recipe]:
    """The recipes of a snapshot that a file is felt in; those that do not parse are left out."""
    kind, name = kind_of(path), id_of(path)
    if kind in ("workspace", "rules"):
        yield from snapshot.recipes()
    elif kind == "recipe":
        read = snapshot.read(path)
        if read.whole:
            own = Recipe(name, read.facts, path)
            yield own
            if own.is_premix:
                yield from _users(snapshot, _made_by(snapshot, name))
    elif kind == "ingredients":
        yield from _users(snapshot, {name})
    elif kind == "equipment":
        yield from (recipe for recipe in _naming(snapshot, {name}) if name in recipe.mixers)
    elif kind == "packaging":
        yield from (recipe for recipe in _naming(snapshot, {name}) if name == recipe.packaging)


def _users(snapshot: Snapshot, ingredients: set[str]) -> Iterator[Recipe]:
    """The recipes that use an ingredient, directly or through premixes."""
    seen: set[str] = set()
    waiting = ingredients
    while waiting:
        found = [recipe for recipe in _naming(snapshot, waiting) if waiting & set(recipe.uses)]
        fresh = [recipe for recipe in found if recipe.id not in seen]
        seen |= {recipe.id for recipe in fresh}
        yield from fresh
        waiting = {name for recipe in fresh if recipe.is_premix for name in _made_by(snapshot, recipe.id)}


def _made_by(snapshot: Snapshot, recipe: str) -> set[str]:
    """Name the ingredients that a recipe makes."""
    found = (name for name, path in snapshot.ids("ingredients").items() if _mentions(snapshot, path, {recipe}))
    read = ((name, snapshot.ingredient(name)) for name in found)
    return {name for name, ingredient in read if ingredient is not None and ingredient.recipe == recipe}


def _naming(snapshot: Snapshot, names: set[str]) -> Iterator[Recipe]:
    """The recipes in whose text a name stands: a look at the bytes spares most of them being read."""
    for name, path in snapshot.ids("recipe").items():
        if _mentions(snapshot, path, names):
            recipe = snapshot.recipe(name)
            if recipe is not None:
                yield recipe


def _mentions(snapshot: Snapshot, path: str, names: set[str]) -> bool:
    content = snapshot.source.read(path)
    return not isinstance(content, Refused) and any(name.encode() in content for name in names)
