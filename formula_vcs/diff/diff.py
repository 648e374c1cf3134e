"""Find what differs in meaning between two formulas: lossless and minimal.

Charges are matched by identity, steps by id; every fact that none of these explains is a change of its own, so
nothing can be missed.  Formatting, comments and the order of keys are no facts and so no change.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from formula_vcs.diff.change import RECIPE, Brought, Change, Edit, Move, Put, Whole
from formula_vcs.diff.derived import derived
from formula_vcs.diff.machines import equipment_changes, with_equipment
from formula_vcs.diff.material_changes import ingredient_changes, workspace_changes
from formula_vcs.diff.recipe_changes import RecipeDiff
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient, main_name, main_substance
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import replace


def main_inci(formula: Formula | None, ingredient: str) -> str | None:
    """Name the substance that an ingredient mostly is, water aside: what its grades have in common."""
    return main_substance(formula.ingredients.get(ingredient) if formula is not None else None)


def diff(old: Formula, new: Formula) -> tuple[Change, ...]:
    """The changes from one formula to another, the derived ones last.

    ``apply(old, diff(old, new)) == new``.
    """
    changes = _recipe(old, new, old.recipe, new.recipe, RECIPE)
    for name, premix in old.premixes.items():
        other = new.premixes.get(name)
        if other is not None and other is not premix:
            changes += _premix(old, new, premix, other)
    known = {name for change in changes for name in change.brings}
    changes += _materials(old, new, known)
    changes = [with_equipment(change, old, new) for change in changes]
    changes += equipment_changes(old, new, changes)
    changes += workspace_changes(old.workspace, new.workspace)
    return (*changes, *derived(old, new))


def _recipe(old: Formula, new: Formula, before: Recipe, after: Recipe, owner: str) -> list[Change]:
    if before.facts == after.facts:
        return []
    grades = (lambda name: main_inci(old, name)), (lambda name: main_inci(new, name))
    changes = RecipeDiff(before, after, owner, grades, lambda name: main_name(new.ingredients.get(name))).changes()
    return [_with_brings(change, old, new) for change in changes]


def _with_brings(change: Change, old: Formula, new: Formula) -> Change:
    fresh = new.ingredients.keys() - old.ingredients.keys()
    wanted = {name for edit in change.edits for name in _names(edit)} & fresh
    return replace(change, brings=closure(new, wanted, old)) if wanted else change


def _names(edit: Edit) -> Iterator[str]:
    """Name the ingredient of the charge that an edit is about."""
    if isinstance(edit, Move):
        yield edit.new[3]
    elif isinstance(edit, Put) and edit.path[:1] == ("phase",) and len(edit.path) > 3:
        yield edit.path[3]


def closure(new: Formula, names: set[str], old: Formula) -> Mapping[str, Brought]:
    """Give ingredients, and the premixes behind them, that the old formula did not use."""
    found: dict[str, Brought] = {}
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        ingredient = new.ingredients.get(name)
        if ingredient is None or name in found or name in old.ingredients:
            continue
        found[name] = ingredient
        recipe = new.premixes.get(ingredient.recipe) if ingredient.recipe is not None else None
        if recipe is not None and recipe.id not in old.premixes:
            found[f"recipe:{recipe.id}"] = recipe
            waiting.extend(recipe.uses)
    return found


def _premix(old: Formula, new: Formula, before: Recipe, after: Recipe) -> list[Change]:
    owner = f"premix:{before.id}"
    return [
        Change(
            "premix",
            # a charge can be moved and have its amount changed, and here both are of one kind
            f"premix/{before.id}/{change.where}{'/place' if change.kind in ('moved', 'grade-swap') else ''}",
            change.old,
            change.new,
            f"premix '{before.id}': {change.text}",
            change.edits,
            change.brings,
        )
        for change in _recipe(old, new, before, after, owner)
    ]


def _materials(old: Formula, new: Formula, known: set[str]) -> list[Change]:
    changes: list[Change] = []
    for name, ingredient in old.ingredients.items():
        other = new.ingredients.get(name)
        if other is None:
            continue
        if other is not ingredient:
            changes += [_brings_premix(change, other, old, new) for change in ingredient_changes(ingredient, other)]
    changes += _appeared(old, new, known)
    return changes


def _brings_premix(change: Change, after: Ingredient, old: Formula, new: Formula) -> Change:
    here = f"ingredient/{after.id}"
    if change.where not in (here, f"{here}/recipe") or after.recipe is None:
        return change
    premix = new.premixes.get(after.recipe)
    if premix is None or premix.id in old.premixes:
        return change
    brings: dict[str, Brought] = {f"recipe:{premix.id}": premix}
    brings.update(closure(new, set(premix.uses), old))
    return replace(change, brings=brings)


def _appeared(old: Formula, new: Formula, known: set[str]) -> list[Change]:
    """Say files that came or went under a recipe that names them in both versions."""
    changes: list[Change] = []
    used = set(old.recipe.uses) | {name for premix in old.premixes.values() for name in premix.uses}
    for name, ingredient in new.ingredients.items():
        if name not in old.ingredients and name not in known and name in used:
            edits = (Whole(f"ingredient:{name}", ingredient),)
            changes.append(
                Change("ingredient", f"ingredient/{name}", None, name, f"'{name}': its file is there now", edits,
                       closure(new, {name}, old))
            )  # fmt: skip
    still = set(new.recipe.uses) | {name for premix in new.premixes.values() for name in premix.uses}
    for name in old.ingredients:
        if name not in new.ingredients and name in still:
            edits = (Whole(f"ingredient:{name}", None),)
            changes.append(Change("ingredient", f"ingredient/{name}", name, None, f"'{name}': its file is gone", edits))
    return changes + _premix_files(old, new)


def _premix_files(old: Formula, new: Formula) -> list[Change]:
    changes: list[Change] = []
    for name in old.ingredients.keys() & new.ingredients.keys():
        recipe = old.ingredients[name].recipe
        if recipe is None or recipe != new.ingredients[name].recipe:
            continue
        here, there = old.premixes.get(recipe), new.premixes.get(recipe)
        if (here is None) == (there is None):
            continue
        words = f"premix '{recipe}': its file {'is gone' if there is None else 'is there now'}"
        edits = (Whole(f"premix:{recipe}", there),)
        brings = closure(new, set(there.uses), old) if there is not None else {}
        changes.append(
            Change(
                "premix",
                f"premix/{recipe}",
                None if here is None else recipe,
                None if there is None else recipe,
                words,
                edits,
                brings,
            )
        )
    return list({change.id: change for change in changes}.values())
