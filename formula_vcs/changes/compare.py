"""Compare two snapshots: per recipe what changed, what it does, what it breaks; and the files beside."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from formula_vcs.changes.causes import all_findings, causes
from formula_vcs.changes.change import GONE, Change
from formula_vcs.changes.diff import diff
from formula_vcs.changes.effects import Effect, effects
from formula_vcs.changes.materials import differing, ingredient_changes
from formula_vcs.changes.other import describe
from formula_vcs.changes.rules import touching
from formula_vcs.figures.figure import Terms
from formula_vcs.model.facts import Facts
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.recipe import Recipe
from formula_vcs.snapshot import WORKSPACE_FILE, Snapshot, id_of, kind_of


@dataclass(frozen=True, slots=True)
class NewFinding:
    """A finding that was not there before, with the ids of the changes that bring it together."""

    finding: Finding
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Duty:
    """Work that a change obliges somebody to redo."""

    duty: str
    owner: str
    because: tuple[str, ...]
    evidence: str
    source: str


@dataclass(frozen=True, slots=True)
class Review:
    """One recipe between two versions.  ``status`` is changed, added, removed, or unread (a side does not parse)."""

    recipe: str
    title: str
    status: str
    file: str
    changes: tuple[Change, ...]
    effects: tuple[Effect, ...]
    new: tuple[NewFinding, ...]
    gone: tuple[Finding, ...]
    still: tuple[Finding, ...]
    duties: tuple[Duty, ...] = ()

    @property
    def blocked(self) -> bool:
        """Say whether the new version is one that must not be used."""
        findings = (*(item.finding for item in self.new), *self.still)
        return any(finding.severity == "block" for finding in findings)


@dataclass(frozen=True, slots=True)
class Comparison:
    """All of two snapshots: the recipes that differ, the files that no recipe shows, and how many are the same."""

    old: str
    new: str
    reviews: tuple[Review, ...]
    beside: tuple[Change, ...]
    touched: tuple[str, ...]
    same: int


def compare(
    old: Snapshot,
    new: Snapshot,
    terms: Terms,
    only: Sequence[str] = (),
    progress: Callable[[int, int], None] = lambda _done, _all: None,
    *,
    findings: bool = True,
    why: bool = True,
) -> Comparison:
    """Compare two snapshots of a workspace; ``only`` names recipes, all of them where it is empty.

    ``findings`` says whether both versions are judged, ``why`` whether the causes of new findings are looked for
    and findings that are gone are wanted where no finding is left.
    """
    touched = _touched(old, new)
    renames = _renamed(old, new)
    pairs = list(_pairs(old, new, touched, only, renames))
    reviews: list[Review] = []
    for done, (name, before, after) in enumerate(pairs):
        progress(done, len(pairs))
        review = _review(
            name, (old, before), (new, after), terms, findings=findings, why=why, was_called=renames.get(name)
        )
        if review is not None:
            reviews.append(review)
    beside = () if only else tuple(_beside(old, new, touched, reviews))
    total = len({*old.ids("recipe"), *new.ids("recipe")} - set(renames.values()))
    return Comparison(old.label, new.label, tuple(reviews), beside, tuple(sorted(touched)), total - len(reviews))


def file_changes(old: Snapshot, new: Snapshot, old_path: str, new_path: str) -> tuple[Change, ...] | None:
    """Give the changes inside one file, which a rename may have moved; None where a side does not parse."""
    kind = kind_of(new_path)
    names = id_of(old_path), id_of(new_path)
    sides = [
        snapshot.read(path) if path in snapshot.listing else None
        for snapshot, path in ((old, old_path), (new, new_path))
    ]
    if any(side is not None and not side.whole for side in sides):
        return None
    facts = [side.facts if side is not None else {} for side in sides]
    if kind == "recipe":
        formulas = [
            snapshot.formula(Recipe(names[1], own, new_path)) for snapshot, own in zip((old, new), facts, strict=True)
        ]
        return tuple(change for change in diff(*formulas) if not change.where.startswith(_OF_OTHERS))
    if kind == "ingredients":
        return tuple(ingredient_changes(*(Ingredient(names[1], own, new_path) for own in facts)))
    prefix = f"{kind.removesuffix('s')}/{names[1]}" if kind != "workspace" else "workspace"
    return tuple(_free(prefix, "", *facts))


_OF_OTHERS: Final = ("rule/", "ingredient/", "premix/", "equipment/", "workspace/")


def _free(prefix: str, lead: str, old: Facts, new: Facts) -> Iterable[Change]:
    for fact, was, now in differing(old, new):
        sides = [None if value is GONE else value for value in (was, now)]
        before, after = (None if value is None else str(value) for value in sides)
        yield Change("other", "/".join((prefix, *fact)), before, after, f"{lead}{describe(fact, *sides)}")


def _touched(old: Snapshot, new: Snapshot) -> set[str]:
    """Name the files whose content differs."""
    return {path for path in {*old.listing, *new.listing} if old.content_name(path) != new.content_name(path)}


def _pairs(
    old: Snapshot, new: Snapshot, touched: set[str], only: Sequence[str], renames: Mapping[str, str]
) -> Iterable[tuple[str, Recipe | None, Recipe | None]]:
    before, after = old.ids("recipe"), new.ids("recipe")
    materials = {id_of(path) for path in touched if kind_of(path) == "ingredients"}
    premixes = {id_of(path) for path in touched if kind_of(path) == "recipe"}
    machines = any(kind_of(path) == "equipment" for path in touched)
    deep = bool(materials) or machines or _for_all(touched) or _made_by(new, premixes)
    for name in dict.fromkeys([*sorted({*before, *after})]):
        if (only and name not in only) or name in renames.values():
            continue
        if name in renames:
            was = old.recipe(renames[name])
            yield name, None if was is None else replace(was, id=name), new.recipe(name)
            continue
        own = before.get(name) in touched or after.get(name) in touched or before.get(name) != after.get(name)
        if own or deep:
            yield name, old.recipe(name), new.recipe(name)


def _renamed(old: Snapshot, new: Snapshot) -> dict[str, str]:
    """Give recipes whose file got another name, and so the recipe another id: ``{new id: old id}``.

    As git does it, by likeness: most facts of the one that came are those of the one that went.
    """
    went = [name for name in old.ids("recipe") if name not in new.ids("recipe")]
    came = [name for name in new.ids("recipe") if name not in old.ids("recipe")]
    if not went or not came or len(went) * len(came) > _MOST_PAIRS:
        return {}
    ranked: list[tuple[float, str, str]] = []
    for before in went:
        was = old.recipe(before)
        for after in came:
            now = new.recipe(after)
            if was is not None and now is not None:
                alike = sum(now.facts.get(path) == value for path, value in was.facts.items())
                ranked.append((alike / max(len(was.facts), len(now.facts), 1), after, before))
    found: dict[str, str] = {}
    for likeness, after, before in sorted(ranked, reverse=True):
        if likeness >= _ALIKE and after not in found and before not in found.values():
            found[after] = before
    return found


_ALIKE: Final = 0.6
_MOST_PAIRS: Final = 400


def _for_all(touched: set[str]) -> bool:
    """Say whether something moved that every recipe rests on: the workspace's defaults, or a rule of the house."""
    return WORKSPACE_FILE in touched or any(kind_of(path) == "rules" for path in touched)


def _made_by(snapshot: Snapshot, premixes: set[str]) -> bool:
    """Say whether a touched recipe is an ingredient of others."""
    if not premixes:
        return False
    return any(
        ingredient is not None and ingredient.recipe in premixes
        for ingredient in map(snapshot.ingredient, snapshot.ids("ingredients"))
    )


def _review(
    name: str,
    before: tuple[Snapshot, Recipe | None],
    after: tuple[Snapshot, Recipe | None],
    terms: Terms,
    *,
    findings: bool,
    why: bool,
    was_called: str | None = None,
) -> Review | None:
    (old, was), (new, now) = before, after
    status = "changed"
    if was is None or now is None:
        status = _status(name, old, new, was, now)
    title = (now or was or Recipe(name, {})).title
    file = (now.file if now is not None else None) or new.ids("recipe").get(name) or old.ids("recipe").get(name, "")
    past = old.formula(was or Recipe(name, {}, file))
    present = new.formula(now or Recipe(name, {}, file))
    if status != "changed":
        # a side that is not there has no workspace of its own to differ in
        past = replace(past, workspace=present.workspace) if was is None else past
        present = replace(present, workspace=past.workspace) if now is None else present
    changes = touching(past, present, diff(past, present))
    if was_called is not None:
        changes = (Change("header", "id", was_called, name, f"renamed, was '{was_called}'"), *changes)
    if not changes and status == "changed":
        if old.ids("recipe").get(name) == new.ids("recipe").get(name) and old.content_name(file) == new.content_name(
            file
        ):
            return None
        return Review(name, title, "same", file, (), (), (), (), ())
    moved = tuple(effects(past, present, changes, terms)) if status == "changed" else ()
    if not findings:
        return Review(name, title, status, file, changes, moved, (), (), ())
    after_all = _findings(new, now, present, terms.day)
    # where only new findings count and there are none, the old version need not be judged
    sides = _findings(old, was, past, terms.day) if why or after_all else [], after_all
    if status in ("removed", "unread") and now is None:
        sides = sides[0], [finding for finding in sides[1] if finding.line]
    fresh, gone, still = _sorted_out(*sides)
    named = tuple(
        NewFinding(
            new.place(finding), _causes(past, changes, finding, terms.day) if why and status == "changed" else ()
        )
        for finding in fresh
    )
    return Review(
        name, title, status, file, changes, moved, named,
        tuple(old.place(finding) for finding in gone), tuple(new.place(finding) for finding in still),
    )  # fmt: skip


def _status(name: str, old: Snapshot, new: Snapshot, was: Recipe | None, now: Recipe | None) -> str:
    here, there = name in old.ids("recipe"), name in new.ids("recipe")
    if (here and was is None) or (there and now is None):
        return "unread"
    return "removed" if not there else "added"


def _findings(snapshot: Snapshot, recipe: Recipe | None, formula: Formula, day: datetime.date) -> list[Finding]:
    if recipe is None:
        path = snapshot.ids("recipe").get(formula.recipe.id)
        return [] if path is None else [replace(f, recipe=formula.recipe.id) for f in snapshot.read(path).findings]
    found = all_findings(formula, day)
    for ingredient in formula.ingredients.values():
        if not ingredient.readable:
            found.extend(snapshot.read(ingredient.file).findings)
    return found


def _sorted_out(before: list[Finding], after: list[Finding]) -> tuple[list[Finding], list[Finding], list[Finding]]:
    """Sort findings into new, gone and still there; one that got worse is new."""
    known = {(finding.fingerprint, finding.severity) for finding in before}
    now = {(finding.fingerprint, finding.severity) for finding in after}
    fresh = [finding for finding in after if (finding.fingerprint, finding.severity) not in known]
    still = [finding for finding in after if (finding.fingerprint, finding.severity) in known]
    gone = [finding for finding in before if (finding.fingerprint, finding.severity) not in now]
    return fresh, gone, still


def _causes(past: Formula, changes: Sequence[Change], finding: Finding, day: datetime.date) -> tuple[str, ...]:
    return () if finding.rule in ("syntax", "unreadable") else causes(past, changes, finding, day)


def _beside(old: Snapshot, new: Snapshot, touched: set[str], reviews: Sequence[Review]) -> Iterable[Change]:
    """Give the changes in files that stand under no recipe here: equipment, lots, unused ingredients, titles."""
    recipes = {review.recipe for review in reviews}
    recipes |= {change.old for review in reviews for change in review.changes if change.where == "id" and change.old}
    shown = {change.where for review in reviews for change in review.changes}
    for path in sorted(touched):
        if kind_of(path) == "recipe" and id_of(path) in recipes:
            continue
        for change in _of_file(old, new, path):
            if change.where not in shown:
                yield change


def _of_file(old: Snapshot, new: Snapshot, path: str) -> Iterable[Change]:
    kind = kind_of(path)
    before = old.read(path) if path in old.listing else None
    after = new.read(path) if path in new.listing else None
    prefix = f"{kind.removesuffix('s')}/{id_of(path)}" if kind != "workspace" else "workspace"
    if before is None or after is None:
        verb = "added" if before is None else "removed"
        was, now = (None, path) if before is None else (path, None)
        yield Change("other", prefix, was, now, f"{path}: {verb}")
    elif not (before.whole and after.whole):
        words = "does not parse any more" if before.whole else "parses again" if after.whole else "does not parse"
        yield Change("other", prefix, None, None, f"{path}: {words}")
    elif kind == "ingredients":
        yield from ingredient_changes(*(Ingredient(id_of(path), read.facts, path) for read in (before, after)))
    else:
        yield from _free(prefix, f"{path}: ", before.facts, after.facts)
