"""Who last changed what of a recipe: each part of its meaning followed back to the commit that gave it its value.

As git does it for lines: a part that a commit has from one of its parents is that parent's, the first one's where
several have it.  What a part is called may change on the way (a charge that moved, a swapped grade, a renamed file);
layout, comments and the order of keys are no parts of the meaning and so never change a blame.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

from formula_vcs.diff.change import RECIPE, Change
from formula_vcs.diff.change_words import plain
from formula_vcs.git.commit_log import Commit
from formula_vcs.history.blame_parts import GRADE, PLACE, VALUE, Back, Facet, touched
from formula_vcs.history.version_of_recipe import Version, changes_from
from formula_vcs.model.amount import Accepted
from formula_vcs.model.facts import Path, spelled
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import STEP_ORDER, Recipe
from formula_vcs.model.values import dataclass, replace

NOT_YET: Final = "0" * 40
_CHARGE: Final = 4


@dataclass(frozen=True, slots=True)
class Blamed:
    """A part of a recipe and the version that gave it its value.

    ``old`` and ``new`` are what it was there before and after, for reading; ``text`` are the words of the change, empty
    where the recipe begins with it.
    """

    facet: Facet
    version: Version
    old: str | None
    new: str | None
    text: str


def facets_of(recipe: Recipe) -> list[Facet]:
    """Give every part of a recipe: each fact, the place and the grade of each charge, the place of each step."""
    found = [Facet(RECIPE, path) for path in recipe.facts if path != STEP_ORDER]
    for charge in recipe.charges:
        found += [Facet(RECIPE, charge.path, PLACE), Facet(RECIPE, charge.path, GRADE)]
    return found + [Facet(RECIPE, step.path, PLACE) for step in recipe.steps]


def blame(tip: Version, facets: Iterable[Facet] | None = None) -> dict[Facet, Blamed]:
    """Give for each facet of the recipe at a version (all of them by default) the version that it is owed to."""
    if tip.formula is None:
        return {}
    wanted = facets_of(tip.formula.recipe) if facets is None else list(facets)
    waiting: dict[int, dict[Facet, Facet]] = {id(tip): {facet: facet for facet in wanted}}
    found: dict[Facet, Blamed] = {}
    for version in children_first(tip):
        here = waiting.pop(id(version), None)
        if here:
            _sort_out(version, here, waiting, found)
    return {facet: _as_written(found[facet], tip.formula) for facet in wanted if facet in found}


def _as_written(blamed: Blamed, formula: Formula) -> Blamed:
    """Give a value in the digits that it is written with now: 5.0 for 5.00 was no change."""
    return replace(blamed, new=_read(formula, blamed.facet)) if blamed.facet.what == VALUE else blamed


def _sort_out(
    version: Version, here: dict[Facet, Facet], waiting: dict[int, dict[Facet, Facet]], found: dict[Facet, Blamed]
) -> None:
    """Hand what a version has from a parent to that parent; the rest is its own.

    ``here`` maps the names at the tip to the names here.
    """
    if version.status not in ("added", "cut"):
        for parent, changes in zip(version.parents, version.against, strict=True):
            here = _handed(here, parent, changes, waiting)
            if not here:
                return
    by = touched(version.against[0]) if version.against else {}
    back = Back(version.against[0] if version.against else ())
    for at_tip, facet in here.items():
        change = by.get(facet) or by.get(facet._replace(what=VALUE))
        old = _read(version.before, back(facet)) if version.against else None
        found[at_tip] = Blamed(at_tip, version, old, _read(version.formula, facet), change.text if change else "")


def _handed(
    here: dict[Facet, Facet], parent: Version, changes: tuple[Change, ...], waiting: dict[int, dict[Facet, Facet]]
) -> dict[Facet, Facet]:
    """Give what is left after a parent took what it has."""
    by, back = touched(changes), Back(changes)
    left: dict[Facet, Facet] = {}
    taken = waiting.setdefault(id(parent), {})
    for at_tip, facet in here.items():
        there = back(facet)
        if facet in by or not _has(parent.formula, there):
            left[at_tip] = facet
        else:
            taken[at_tip] = there
    return left


def children_first(tip: Version) -> list[Version]:
    """Give the versions behind a tip, none before all that were made from it."""
    done: list[Version] = []
    seen: set[int] = set()
    stack: list[tuple[Version, bool]] = [(tip, False)]
    while stack:
        version, after = stack.pop()
        if after:
            done.append(version)
        elif id(version) not in seen:
            seen.add(id(version))
            stack.append((version, True))
            stack.extend((parent, False) for parent in version.parents)
    return done[::-1]


def _has(formula: Formula | None, facet: Facet) -> bool:
    if formula is None:
        return False
    facts = formula.recipe.facts
    if facet.what == VALUE:
        return facet.path in facts
    if facet.path[0] == "step":
        return facet.path[1] in facts.get(STEP_ORDER, ())
    # nearly every charge states its amount; only for one that does not all facts are gone through
    return facet.path in facts or any(path[:_CHARGE] == facet.path for path in facts)


def _read(formula: Formula | None, facet: Facet) -> str | None:
    """Give what a facet is in a formula, as people read it."""
    if formula is None or not _has(formula, facet):
        return None
    if facet.what == PLACE and facet.path[0] == "step":
        return position(formula.recipe.facts[STEP_ORDER], facet.path[1])
    if facet.what == PLACE:
        return facet.path[1]
    if facet.what == GRADE:
        return facet.path[3]
    return worded(formula.recipe.facts[facet.path])


def worded(value: Any) -> str:
    """Write the value of a fact."""
    return str(value) if isinstance(value, Accepted) else plain(value)


def position(order: tuple[str, ...], step: str) -> str:
    """Say where a step stands: first, or after which."""
    index = order.index(step)
    return f"after '{order[index - 1]}'" if index else "first"


def not_committed(tip: Version | None, formula: Formula, path: str) -> Version:
    """Give the work tree's recipe as a version on top of the last committed one."""
    commit = Commit(NOT_YET, (), "", "", "", "", "not committed yet", "")
    if tip is None or tip.formula is None:
        return Version(commit, "added", (), formula, path)
    changes = changes_from(tip.formula, formula)
    return Version(commit, "changed", changes, formula, path, (tip,), (changes,))


def makers(version: Version, changes: Sequence[Change]) -> dict[str, Version]:
    """Say for each change of a version which version made it: of a merge those of its sides, by the change's id."""
    found = {change.id: version for change in changes}
    if version.status != "merged":
        return found
    facets = touched(changes)
    owed = blame(version, [facet for facet in facets if facet.owner == RECIPE])
    found.update((facets[facet].id, part.version) for facet, part in owed.items())
    # of what lies under the recipe the newest version of the other sides that made the same change
    known = {id(older) for older in children_first(version.parents[0])}
    for older in reversed(children_first(version)):
        if id(older) not in known:
            found.update((change.id, older) for change in older.changes if change.id in found)
    return found


@dataclass(frozen=True, slots=True)
class TrailStop:
    """A version on the trail of a charge: its changes of it, and the paths that the charge then had."""

    changes: tuple[Change, ...]
    paths: tuple[Path, ...]


def trail(tips: Iterable[Version], ingredient: str) -> dict[int, TrailStop]:
    """Give every version that changed a charge: ``{id(version): stop}``.

    It is followed back from the newest of the versions (the newest first) that has such a charge, through moves and
    other grades.  The version that took it away is among them.
    """
    tips = list(tips)
    tip = next((one for one in tips if one.formula is not None and ingredient in one.formula.recipe.uses), None)
    if tip is None or tip.formula is None:
        return {}
    found: dict[int, TrailStop] = {}
    for version in tips[: tips.index(tip)]:
        went = tuple(change for change in version.changes if change.where.split("/")[2:4] == ["charge", ingredient])
        if went:
            found[id(version)] = TrailStop(went, ())
    charges = [charge.path for charge in tip.formula.recipe.charges if charge.ingredient == ingredient]
    waiting: dict[int, dict[Path, None]] = {id(tip): dict.fromkeys(charges)}
    for version in children_first(tip):
        here = waiting.pop(id(version), {})
        if not here:
            continue
        did = _did(version, set(here))
        if did or not version.against:
            found[id(version)] = TrailStop(did, tuple(here))
        for parent, changes in zip(version.parents, version.against, strict=False):
            back = Back(changes)
            there = [back(Facet(RECIPE, path)) for path in here]
            held = [facet.path for facet in there if _has(parent.formula, facet._replace(what=PLACE))]
            waiting.setdefault(id(parent), {}).update(dict.fromkeys(held))
    return found


def _did(version: Version, paths: set[Path]) -> tuple[Change, ...]:
    """Give the changes of a version that are about charges at some paths, or about the data of their materials."""
    names = {path[3] for path in paths}
    mine = {
        change.id
        for facet, change in touched(version.changes).items()
        if facet.path[:_CHARGE] in paths or facet.owner in {f"ingredient:{name}" for name in names}
    }
    shifts = {f"balance:{spelled(path)}" for path in paths}
    back = Back(version.changes)
    gone = {spelled(back(Facet(RECIPE, path)).path) for path in paths}
    return tuple(
        change
        for change in version.changes
        if change.id in mine or change.id in shifts or (change.kind == "removed" and change.where in gone)
    )
