"""A formula taken apart once, for all figures and rules: percentages, raw materials, substances."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import cached_property

from formula_vcs.figures.composition import HUNDRED, Composition, compose
from formula_vcs.figures.walk import Walk, walk
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient, inci_key

ONE = Fraction(1)


class Sums:
    """The sums of one formula, each worked out when first asked for."""

    def __init__(self, formula: Formula) -> None:
        """Take the formula."""
        self.formula = formula
        self._premixes: dict[str, Composition] = {}

    @cached_property
    def composition(self) -> Composition:
        """Give the percentages of the recipe itself."""
        return compose(self.formula.recipe, self.formula.ingredients.get)

    @cached_property
    def walk(self) -> Walk:
        """Give the process as the factory would walk it."""
        return walk(self.formula.recipe)

    def premix(self, recipe: str) -> Composition:
        """Give the percentages of a premix."""
        if recipe not in self._premixes:
            self._premixes[recipe] = compose(self.formula.premixes[recipe], self.formula.ingredients.get)
        return self._premixes[recipe]

    @cached_property
    def leaves(self) -> dict[str, Fraction]:
        """Give each raw material's share of the product (0 to 1), premixes seen through."""
        return self.spread(lambda _: False)

    def spread(self, closed: Callable[[Ingredient], bool]) -> dict[str, Fraction]:
        """Give each material's share of the product (0 to 1), seeing through premixes that are not ``closed``.

        Works from the recipe inwards, each premix once, however often and deep it is used.
        """
        shares = {name: pct / HUNDRED for name, pct in self.composition.by_ingredient().items()}
        for name in reversed(self.formula.order):
            recipe = self.formula.premix_of(name)
            if recipe is None or name not in shares or closed(self.formula.ingredients[name]):
                continue
            share = shares.pop(name)
            inside = self.premix(recipe.id)
            for inner, pct in inside.by_ingredient().items():
                shares[inner] = shares.get(inner, Fraction(0)) + share * pct / HUNDRED
        return shares

    @cached_property
    def substances(self) -> dict[str, Fraction]:
        """Give each substance's % w/w in the product by folded INCI name, merged over all raw materials."""
        merged: dict[str, Fraction] = {}
        for name, share in self.leaves.items():
            found = self.formula.ingredients.get(name)
            for inci, pct in found.substances.items() if found is not None else ():
                key = inci_key(inci)
                merged[key] = merged.get(key, Fraction(0)) + share * Fraction(pct)
        return merged

    @cached_property
    def names(self) -> Mapping[str, tuple[str, str]]:
        """Give the spelling and the CAS number of each substance, as the first raw material that has it writes."""
        found: dict[str, tuple[str, str]] = {}
        for name in self.leaves:
            material = self.formula.ingredients.get(name)
            for inci in material.substances if material is not None else ():
                cas = material.get("substances", inci, "cas") if material is not None else None
                spelling, known = found.get(inci_key(inci), (" ".join(inci.split()), ""))
                found[inci_key(inci)] = (spelling, known or cas or "")
        return found

    @cached_property
    def unnamed(self) -> tuple[str, ...]:
        """Name the raw materials whose composition is not known."""
        return tuple(
            name
            for name, share in self.leaves.items()
            if share and (name not in self.formula.ingredients or not self.formula.ingredients[name].substances)
        )
