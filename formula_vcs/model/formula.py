"""A recipe together with everything it rests on: ingredients, premixes, equipment and the workspace's defaults."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from formula_vcs.model.derived import Derived
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.packaging import Packaging
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, field
from formula_vcs.model.workspace import Shelf, Workspace


@dataclass(frozen=True)
class Formula:
    """What figures and rules are computed from.

    ``ingredients`` and ``premixes`` hold what the recipe uses, through premixes to any depth, and nothing else.
    ``order`` names the premix ingredients, inner ones first.  ``cycles`` lists recipes that contain themselves,
    each as the chain of recipe ids that closes; the premix ingredient that would close it is left out of ``order``.
    ``equipment`` is what the steps of the recipe and of its premixes name as their mixer, ``packaging`` what the recipe
    is filled into.
    """

    recipe: Recipe
    ingredients: Mapping[str, Ingredient]
    premixes: Mapping[str, Recipe]
    workspace: Workspace
    order: tuple[str, ...] = field(default=(), compare=False)
    cycles: tuple[tuple[str, ...], ...] = field(default=(), compare=False)
    shelf: Shelf = field(default_factory=Shelf, compare=False)
    equipment: Mapping[str, Equipment] = field(default_factory=dict)
    packaging: Mapping[str, Packaging] = field(default_factory=dict)
    derived: Derived = field(default_factory=Derived, init=False, compare=False, repr=False)

    @property
    def batch(self) -> Quantity | None:
        """The size that numbers of the recipe are quoted for: its own, else the workspace's."""
        return self.recipe.batch or self.workspace.batch

    def of_premix(self, premix: Recipe) -> Formula:
        """One of its premixes as a formula of its own, by the same files."""
        return resolve(
            premix, self.ingredients.get, self.premixes.get, self.workspace, self.shelf, equipment=self.equipment.get
        )

    def premix_of(self, ingredient: str) -> Recipe | None:
        """The recipe behind an ingredient, where it is a premix that can be seen through."""
        found = self.ingredients.get(ingredient)
        if found is None or found.recipe is None:
            return None
        return self.premixes.get(found.recipe)

    def whom_to_ask(self, fact: str) -> str:
        """A missing fact, "ingredient: what", with the supplier who can say it, where the file names one."""
        material = self.ingredients.get(fact.partition(":")[0])
        supplier = None if material is None else material.get("supplier")
        return f"{fact} (ask {supplier})" if supplier else fact

    def title(self, ingredient: str) -> str:
        """An ingredient's title, or its id where the file is missing."""
        found = self.ingredients.get(ingredient)
        return found.title if found is not None else ingredient


def resolve(
    recipe: Recipe,
    ingredient: Callable[[str], Ingredient | None],
    premix: Callable[[str], Recipe | None],
    workspace: Workspace,
    shelf: Shelf | None = None,
    *,
    equipment: Callable[[str], Equipment | None] = lambda _: None,
    packaging: Callable[[str], Packaging | None] = lambda _: None,
) -> Formula:
    """Gather what a recipe rests on.

    The walk keeps its own stack, so premixes nested thousands deep in a hostile file end in a value, not in a crash.
    """
    ingredients: dict[str, Ingredient] = {}
    premixes: dict[str, Recipe] = {}
    order: list[str] = []
    cycles: dict[tuple[str, ...], None] = {}
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
        found = ingredients.get(name) or ingredient(name)
        if found is None:
            continue
        ingredients[name] = found
        inner = premix(found.recipe) if found.recipe is not None else None
        if inner is not None and inner.id in chain:
            cycles.setdefault(_loop(chain, inner.id))
        elif name not in done:
            done.add(name)
            if inner is None:
                continue
            premixes[inner.id] = inner
            chain[inner.id] = None
            stack.append((inner, name, 0))
    mixers = _mixers(recipe, premixes, equipment)
    pack = None if recipe.packaging is None else packaging(recipe.packaging)
    return Formula(
        recipe, ingredients, premixes, workspace, tuple(order), tuple(cycles), shelf or Shelf(), mixers,
        {} if pack is None else {pack.id: pack},
    )  # fmt: skip


def _mixers(
    recipe: Recipe, premixes: Mapping[str, Recipe], equipment: Callable[[str], Equipment | None]
) -> dict[str, Equipment]:
    names = dict.fromkeys(name for made in (recipe, *premixes.values()) for name in made.mixers)
    found = ((name, equipment(name)) for name in names)
    return {name: machine for name, machine in found if machine is not None}


def _loop(chain: Mapping[str, None], again: str) -> tuple[str, ...]:
    names = list(chain)
    return (*names[names.index(again) :], again)
