"""A recipe together with everything it rests on: its ingredients, its premixes and the workspace's defaults."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.workspace import Shelf, Workspace


@dataclass(frozen=True)
class Formula:
    """What figures and rules are computed from.

    ``ingredients`` and ``premixes`` hold what the recipe uses, through premixes to any depth, and nothing else.
    ``order`` names the premix ingredients, inner ones first.  ``cycles`` lists recipes that contain themselves,
    each as the chain of recipe ids that closes; the premix ingredient that would close it is left out of ``order``.
    """

    recipe: Recipe
    ingredients: Mapping[str, Ingredient]
    premixes: Mapping[str, Recipe]
    workspace: Workspace
    order: tuple[str, ...] = field(default=(), compare=False)
    cycles: tuple[tuple[str, ...], ...] = field(default=(), compare=False)
    shelf: Shelf = field(default_factory=Shelf, compare=False)

    def premix_of(self, ingredient: str) -> Recipe | None:
        """Give the recipe behind an ingredient, where it is a premix that can be seen through."""
        found = self.ingredients.get(ingredient)
        if found is None or found.recipe is None:
            return None
        return self.premixes.get(found.recipe)

    def title(self, ingredient: str) -> str:
        """Give an ingredient's title, or its id where the file is missing."""
        found = self.ingredients.get(ingredient)
        return found.title if found is not None else ingredient


def close(
    recipe: Recipe,
    ingredient: Callable[[str], Ingredient | None],
    premix: Callable[[str], Recipe | None],
    workspace: Workspace,
    shelf: Shelf | None = None,
) -> Formula:
    """Gather what a recipe rests on.

    The walk keeps its own stack, so premixes nested thousands deep in a hostile file end in a value, not in a crash.
    """
    ingredients: dict[str, Ingredient] = {}
    premixes: dict[str, Recipe] = {}
    order: list[str] = []
    cycles: list[tuple[str, ...]] = []
    done: set[str] = set()
    chain: dict[str, None] = {recipe.id: None}
    stack: list[tuple[Recipe, str | None, int]] = [(recipe, None, 0)]
    while stack:
        current, entered_by, position = stack.pop()
        uses = current.uses
        if position == len(uses):
            chain.pop(current.id, None)
            if entered_by is not None:
                order.append(entered_by)
            continue
        stack.append((current, entered_by, position + 1))
        name = uses[position]
        if name in done:
            continue
        found = ingredients.get(name) or ingredient(name)
        if found is None:
            continue
        ingredients[name] = found
        inner = premix(found.recipe) if found.recipe is not None else None
        if inner is None:
            done.add(name)
        elif inner.id in chain:
            cycles.append(_loop(chain, inner.id))
        else:
            done.add(name)
            premixes[inner.id] = inner
            chain[inner.id] = None
            stack.append((inner, name, 0))
    return Formula(recipe, ingredients, premixes, workspace, tuple(order), tuple(cycles), shelf or Shelf())


def _loop(chain: Mapping[str, None], again: str) -> tuple[str, ...]:
    names = list(chain)
    return (*names[names.index(again) :], again)
