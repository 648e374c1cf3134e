"""What the materials in a recipe ask of its process, charge by charge."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final, NamedTuple

from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Charge

# A premix that states none of these itself brings those of what is in it.
INHERITED: Final = frozenset({"shear_at_most", "temp_at_most", "add_below"})
STATED: Final = "stated by the ingredient's [handling]"


class HandlingLimit(NamedTuple):
    """One thing that a material in a charge asks for: the charge's own, or one inside its premix.

    ``inside`` is empty, or " in premix 'x'"; ``why`` is the reason that the material's file gives, or empty.
    """

    charge: Charge
    material: str
    value: Any
    inside: str = ""
    why: str = ""

    @property
    def place(self) -> str:
        """Name the charge: phase A, 'xanthan-gum'."""
        return f"phase {self.charge.phase}, '{self.charge.ingredient}'"

    @property
    def named(self) -> str:
        """Name the material, with the premix that it is in."""
        return f"'{self.material}'{self.inside}"

    def because(self, reason: str = "") -> str:
        """The reason in brackets: the file's own, else a general one; empty where there is none."""
        words = self.why or reason
        return f" ({words})" if words else ""


def demands(formula: Formula) -> dict[str, list[HandlingLimit]]:
    """What the charges of a recipe ask for, by name of the demand."""
    found: dict[str, list[HandlingLimit]] = {}
    for charge in formula.recipe.charges:
        material = formula.ingredients.get(charge.ingredient)
        if material is None:
            continue
        if material.recipe is None and not material.care:
            continue
        own = material.care
        why = own.get("because", "")
        for name, value in own.items():
            found.setdefault(name, []).append(HandlingLimit(charge, material.id, value, "", why))
        if material.recipe is not None and material.id in formula.order:
            for name, demand in _inside(formula, charge):
                if name not in own:
                    found.setdefault(name, []).append(demand)
    return found


def _inside(formula: Formula, charge: Charge) -> Iterator[tuple[str, HandlingLimit]]:
    """What the materials in a premix bring, as far as their own premix states nothing."""
    outer = formula.premix_of(charge.ingredient)
    names = INHERITED if outer is not None and outer.steps else INHERITED | {"shear_at_least"}
    seen: set[tuple[str, str]] = set()
    waiting: list[tuple[str, frozenset[str]]] = [(charge.ingredient, names)]
    while waiting:
        premix, open_names = waiting.pop()
        recipe = formula.premix_of(premix)
        for inner in recipe.uses if recipe is not None else ():
            material = formula.ingredients.get(inner)
            if material is None:
                continue
            care = material.care
            for name in sorted(open_names & care.keys()):
                if (inner, name) not in seen:
                    seen.add((inner, name))
                    why = care.get("because", "")
                    yield name, HandlingLimit(charge, inner, care[name], f" in premix '{charge.ingredient}'", why)
            rest = open_names - care.keys()
            if material.recipe is not None and rest and (inner, "") not in seen:
                seen.add((inner, ""))
                waiting.append((inner, rest))


def matching(formula: Formula, names: Iterable[str], but: str = "") -> dict[str, Charge]:
    """The charges that names of functions or ingredients mean; "water" means every charge that is mostly water."""
    wanted = frozenset(name.casefold() for name in names)
    return {
        charge.key: charge
        for charge in formula.recipe.charges
        if charge.key != but and wanted & called(formula, charge.ingredient)
    }


def called(formula: Formula, ingredient: str) -> frozenset[str]:
    """The names by which a rule may mean an ingredient: its id, its functions, "water" where it mostly is."""
    material = formula.ingredients.get(ingredient)
    if material is None:
        return frozenset({ingredient.casefold()})
    return material.called
