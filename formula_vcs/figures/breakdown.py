"""A formula taken apart once, for all figures and rules: percentages, raw materials, substances."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from fractions import Fraction
from functools import cached_property
from typing import Final, TypeVar

from formula_vcs.figures.composition import HUNDRED, Composition, compose
from formula_vcs.model.derived import Derived
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.recipe import Step
from formula_vcs.process.simulate import ProcessRun, run_process
from formula_vcs.process.step_numbers import Numbers, numbers
from formula_vcs.words.numbers import dot

ONE: Final = Fraction(1)
T = TypeVar("T")


def breakdown_of(formula: Formula) -> Breakdown:
    """The sums of a formula, the same for everybody who asks."""
    return formula.derived.cached("sums", lambda: Breakdown(formula))


class Breakdown:
    """The sums of one formula, each worked out when first asked for."""

    def __init__(self, formula: Formula) -> None:
        """Take the formula."""
        self.formula = formula
        self._premixes: dict[str, Composition] = {}
        self._derived = Derived()
        self._numbers: dict[str, Numbers] = {}

    @cached_property
    def composition(self) -> Composition:
        """The percentages of the recipe itself."""
        return compose(self.formula.recipe, self.formula.ingredients.get)

    @cached_property
    def walk(self) -> ProcessRun:
        """The process as the factory would walk it."""
        return run_process(self.formula.recipe)

    def numbers(self, step: Step) -> Numbers:
        """The tip speed, the shear rates and the class of shear of a step."""
        if step.id not in self._numbers:
            device = None if step.mixer is None else self.formula.equipment.get(step.mixer)
            self._numbers[step.id] = numbers(step, device)
        return self._numbers[step.id]

    def premix(self, recipe: str) -> Composition:
        """The percentages of a premix."""
        if recipe not in self._premixes:
            self._premixes[recipe] = compose(self.formula.premixes[recipe], self.formula.ingredients.get)
        return self._premixes[recipe]

    def cached(self, key: Hashable, compute: Callable[[], T]) -> T:
        """What several figures are read off, worked out when first asked for."""
        return self._derived.cached(key, compute)

    @cached_property
    def _shares(self) -> dict[str, Fraction]:
        return {name: pct / HUNDRED for name, pct in self.composition.by_ingredient().items()}

    @cached_property
    def leaves(self) -> dict[str, Fraction]:
        """Each raw material's share of the product (0 to 1), premixes seen through."""
        return self.spread(lambda _: False)

    def spread(self, closed: Callable[[Ingredient], bool]) -> dict[str, Fraction]:
        """Each material's share of the product (0 to 1), seeing through premixes that are not ``closed``.

        Works from the recipe inwards, each premix once, however often and deep it is used.
        """
        shares = dict(self._shares)
        for name in reversed(self.formula.order):
            recipe = self.formula.premix_of(name)
            if recipe is None or name not in shares or closed(self.formula.ingredients[name]):
                continue
            share = shares.pop(name)
            inside = self.premix(recipe.id)
            for inner, pct in inside.by_ingredient().items():
                more = share * pct / HUNDRED
                shares[inner] = shares[inner] + more if inner in shares else more
        return shares

    @cached_property
    def substances(self) -> dict[str, Fraction]:
        """Each substance's % w/w in the product by folded INCI name, merged over all raw materials."""
        parts: dict[str, list[tuple[Fraction, Fraction]]] = {}
        for name, share in self.leaves.items():
            found = self.formula.ingredients.get(name)
            for inci, pct in found.contents if found is not None else ():
                parts.setdefault(inci, []).append((share, pct))
        return {inci: dot(pairs) for inci, pairs in parts.items()}

    @cached_property
    def names(self) -> Mapping[str, tuple[str, str]]:
        """The spelling and the CAS number of each substance, as the first raw material that has it writes."""
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
