"""Which recipes a file of the workspace is felt in: the recipe itself, and those that use it at any depth."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.recipe import Recipe
from formula_vcs.workspace.snapshot import Refused, Snapshot, id_of, kind_of


def affected(snapshot: Snapshot, path: str) -> Iterator[Recipe]:
    """Give the recipes of a snapshot that a file is felt in; those that do not parse are left out."""
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
    """Give the recipes that use an ingredient, directly or through premixes."""
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
    """Give the recipes in whose text a name stands: a look at the bytes spares most of them being read."""
    for name, path in snapshot.ids("recipe").items():
        if _mentions(snapshot, path, names):
            recipe = snapshot.recipe(name)
            if recipe is not None:
                yield recipe


def _mentions(snapshot: Snapshot, path: str, names: set[str]) -> bool:
    content = snapshot.source.read(path)
    return not isinstance(content, Refused) and any(name.encode() in content for name in names)
