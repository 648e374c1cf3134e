"""Apply changes to a formula: all of a diff give the new version, any subset gives something in between."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from formula_vcs.diff.change import GONE, RECIPE, Brought, Change, Drop, Edit, Move, PlaceStep, Put, Whole
from formula_vcs.model.amount import Addition
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.formula import Formula, resolve
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.packaging import Packaging
from formula_vcs.model.recipe import STEP_ORDER
from formula_vcs.model.values import replace
from formula_vcs.model.workspace import Shelf, Workspace

# --- Apply changes to a formula: all of a diff give the new version, any subset gives something in between


def apply(formula: Formula, changes: Iterable[Change]) -> Formula:
    """Apply changes made by :func:`diff` from this formula.

    ``apply(a, diff(a, b)) == b``.  The order in which the changes are given does not matter.
    """
    edits: dict[str, list[Edit]] = defaultdict(list)
    ingredients = dict(formula.ingredients)
    premixes = dict(formula.premixes)
    equipment = dict(formula.equipment)
    packaging = dict(formula.packaging)
    for change in changes:
        for edit in change.edits:
            edits[edit.owner].append(edit)
        for name, brought in change.brings.items():
            if isinstance(brought, Ingredient):
                ingredients.setdefault(name, brought)
            elif isinstance(brought, Equipment):
                equipment.setdefault(brought.id, brought)
            elif isinstance(brought, Packaging):
                packaging.setdefault(brought.id, brought)
            else:
                premixes.setdefault(brought.id, brought)
    recipe = formula.recipe
    workspace = formula.workspace
    shelves: dict[str, dict[str, Any]] = {
        "ingredient": ingredients, "premix": premixes, "equipment": equipment, "packaging": packaging,
    }  # fmt: skip
    for owner, own in edits.items():
        kind, _, name = owner.partition(":")
        whole = next((edit for edit in own if isinstance(edit, Whole)), None)
        if owner == RECIPE:
            recipe = replace(recipe, facts=edited(recipe.facts, own))
        elif kind == "workspace":
            workspace = Workspace(edited(workspace.facts, own), workspace.file)
        elif whole is not None:
            _set_whole(shelves[kind], name, whole.value)
        elif kind in shelves:
            there = shelves[kind]
            there[name] = replace(there[name], facts=edited(there[name].facts, own))
    shelf = Shelf(
        _stocked(formula.shelf.recipes, formula.premixes, premixes),
        _stocked(formula.shelf.ingredients, formula.ingredients, ingredients),
        _stocked(formula.shelf.equipment, formula.equipment, equipment),
        _stocked(formula.shelf.packaging, formula.packaging, packaging),
        formula.shelf.proofs,
    )
    premixes[recipe.id] = recipe  # where a premix names the recipe itself, the circle is to be found again
    return resolve(
        recipe, ingredients.get, premixes.get, workspace, shelf, equipment=equipment.get, packaging=packaging.get
    )


def _stocked(names: frozenset[str], before: Mapping[str, Brought], after: Mapping[str, Brought]) -> frozenset[str]:
    """The ids that references may name, with what the changes brought and without what they took away."""
    return names - (before.keys() - after.keys()) | after.keys()


def _set_whole(shelf: dict[str, Any], name: str, value: Brought | None) -> None:
    if value is None:
        shelf.pop(name, None)
    else:
        shelf[name] = value


def edited(facts: Facts, edits: list[Edit]) -> Facts:
    """Give facts with edits made: amounts first, then moves all at once, then steps, then their order."""
    result = dict(facts)
    puts = [edit for edit in edits if isinstance(edit, Put)]
    for put in puts:
        if put.path[:1] == ("phase",):
            _put(result, put)
    moves = [edit for edit in edits if isinstance(edit, Move)]
    result = _moved(result, moves)
    for put in puts:
        if put.path[:1] != ("phase",):
            _put(result, put)
    dropped = {edit.step for edit in edits if isinstance(edit, Drop)}
    _reorder(result, [edit for edit in edits if isinstance(edit, PlaceStep)], dropped)
    _leave_out_empty(result)
    return result


def _leave_out_empty(facts: dict[Path, Any]) -> None:
    """Take away the fact that a phase holds nothing, where it holds something: some of the changes were not made."""
    empty = [path for path, value in facts.items() if path[0] == "phase" and len(path) == 2 and value is True]
    if empty:
        filled = {path[:2] for path in facts if path[0] == "phase" and len(path) > 2}
        for path in filled.intersection(empty):
            del facts[path]


def _put(facts: dict[Path, Any], put: Put) -> None:
    if put.value is GONE:
        facts.pop(put.path, None)
    else:
        facts[put.path] = put.value


def _moved(facts: dict[Path, Any], moves: list[Move]) -> dict[Path, Any]:
    if not moves:
        return facts
    targets = {move.old: move for move in moves}
    result: dict[Path, Any] = {}
    for path, value in facts.items():
        move = targets.get(path[:4])
        result[path if move is None else (*move.new, *path[4:])] = value
    for move in moves:
        _follow(result, move)
    return result


def _follow(facts: dict[Path, Any], move: Move) -> None:
    old, new = (f"{path[1]}/{path[3]}" for path in (move.old, move.new))
    for step in move.steps:
        for name in ("add", "adjust"):
            value = facts.get(("step", step, name))
            if isinstance(value, tuple):
                facts["step", step, name] = tuple(renamed(item, {old: new}) for item in value)


def renamed(item: Any, names: dict[str, str]) -> Any:
    """An addition, or the name of a charge, with the charge called by its new name."""
    if isinstance(item, Addition):
        return replace(item, what=names[item.what]) if item.what in names else item
    return names.get(item, item)


def _reorder(facts: dict[Path, Any], places: list[PlaceStep], dropped: set[str]) -> None:
    if not places and not dropped:
        return
    moving = {place.step for place in places}
    order = [name for name in facts.get(STEP_ORDER, ()) if name not in moving and name not in dropped]
    # in the new order, each behind its nearest neighbour that is there: with all of a diff that is the new order
    for place in sorted(places, key=lambda place: len(place.after)):
        before = next((name for name in reversed(place.after) if name in order), None)
        order.insert(0 if before is None else order.index(before) + 1, place.step)
    if order:
        facts[STEP_ORDER] = tuple(order)
    else:
        facts.pop(STEP_ORDER, None)


# --- Which items of a list were moved: all that are not on the longest run kept in order


def moved(old: Sequence[str], new: Sequence[str]) -> list[str]:
    """The items of both lists that had to move, in their new order; ids are unique, so the longest common
    subsequence is the longest increasing run of old positions (n log n).

    >>> moved(["a", "b", "c", "d"], ["a", "d", "b", "c"])
    ['d']
    """
    place = {name: position for position, name in enumerate(old)}
    shared = [name for name in new if name in place]
    ends: list[int] = []  # ends[k]: the smallest old position that ends a run of length k + 1
    at: list[int] = []  # index into shared of that end
    before: list[int | None] = [None] * len(shared)
    for index, name in enumerate(shared):
        length = bisect_left(ends, place[name])
        before[index] = at[length - 1] if length else None
        if length == len(ends):
            ends.append(place[name])
            at.append(index)
        else:
            ends[length] = place[name]
            at[length] = index
    kept: set[int] = set()
    cursor: int | None = at[-1] if at else None
    while cursor is not None:
        kept.add(cursor)
        cursor = before[cursor]
    return [name for index, name in enumerate(shared) if index not in kept]
