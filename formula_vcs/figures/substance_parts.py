"""What a recipe is made of, charge by charge and substance by substance, each with all that a pair may call it by."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from fractions import Fraction
from functools import cached_property
from typing import Final, NamedTuple

from formula_vcs.chemistry.substances import Classes, classes_of
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import HUNDRED
from formula_vcs.model.ingredient import Ingredient, inci_key, is_water
from formula_vcs.model.pair import class_tag
from formula_vcs.model.product import holds_water_in_oil
from formula_vcs.model.substance_classes import with_wider
from formula_vcs.words.numbers import shown

WET: Final = Fraction(5)  # % of water from which on there is a water phase that things dissolve in; common practice
_WATERY: Final = Fraction(20)  # % of water from which on a phase of a W/O emulsion is a water phase; common practice
_WATER_IN_OIL: Final = Fraction(1, 2)  # % of W/O emulsifiers from which on an emulsion may be one; common practice
_OTHER_WAY: Final = frozenset({"ethoxylate", "anionic surfactant", "cationic surfactant"})


class Grain(NamedTuple):
    """One substance of a raw material: its % of it, and what it may be called by (see `tags_of`)."""

    material: str
    key: str
    spelled: str
    pct: Fraction
    tags: frozenset[str]
    guessed: bool


class Part(NamedTuple):
    """A grain in a charge of a recipe: ``pct`` is % w/w of the product."""

    charge: str
    phase: str
    grain: Grain
    pct: Fraction


def tags_of(key: str, classes: Classes, material: Ingredient) -> frozenset[str]:
    """What a substance may be called by: its folded INCI name, its classes, the functions of its material."""
    functions = (f"function:{name.casefold()}" for name in material.functions)
    return frozenset({key, *map(class_tag, classes.names), *functions})


def grains(material: Ingredient) -> tuple[Grain, ...]:
    """The substances of a raw material, its water left out; worked out once a material."""
    return material.derived.cached("grains", lambda: tuple(_grains(material)))


def _grains(material: Ingredient) -> Iterator[Grain]:
    stated = stated_classes(material)
    for name, pct in material.substances.items():
        if is_water(name) or not pct:
            continue
        key = inci_key(name)
        own = classes_of(key, material.get("substances", name, "cas") or "") if stated is None else Classes(stated)
        tags = tags_of(key, own, material)
        yield Grain(material.id, key, " ".join(name.split()), Fraction(pct), tags, own.guessed)


def stated_classes(material: Ingredient) -> frozenset[str] | None:
    """The classes that a material states itself, wider ones included; None where it states none."""
    names = [
        path[1] for path, value in material.facts.items() if path[0] == "class" and len(path) == 2 and value is True
    ]
    if not names and material.facts.get(("class",)) != ():
        return None
    return frozenset().union(*map(with_wider, names))


class Parts:
    """The parts of one formula, each worked out when first asked for.  `parts_of` keeps one a formula."""

    def __init__(self, sums: Breakdown) -> None:
        """Take the sums of the formula."""
        self.sums = sums
        self._inside: dict[str, dict[tuple[str, str], tuple[Grain, Fraction]]] = {}

    @cached_property
    def all(self) -> tuple[Part, ...]:
        """Every part, in the order of the charges."""
        formula = self.sums.formula
        for name in formula.order:  # inner premixes first: the walk stays flat
            self._inside[name] = self._of_premix(name)
        return tuple(
            Part(line.charge.key, line.charge.phase, grain, line.pct * share / HUNDRED)
            for line in self.sums.composition.lines
            for grain, share in self._content(line.charge.ingredient)
        )

    def _content(self, name: str) -> Iterable[tuple[Grain, Fraction]]:
        if name in self._inside:
            return self._inside[name].values()
        material = self.sums.formula.ingredients.get(name)
        return [] if material is None else [(grain, grain.pct) for grain in grains(material)]

    def _of_premix(self, name: str) -> dict[tuple[str, str], tuple[Grain, Fraction]]:
        """What is in a premix in % of it, by material and substance."""
        found: dict[tuple[str, str], tuple[Grain, Fraction]] = {}
        recipe = self.sums.formula.premix_of(name)
        for inner, pct in self.sums.premix(recipe.id).by_ingredient().items() if recipe is not None else ():
            for grain, share in self._content(inner):
                key = (grain.material, grain.key)
                before = found[key][1] if key in found else Fraction(0)
                found[key] = (grain, before + pct * share / HUNDRED)
        return found

    @cached_property
    def tags(self) -> frozenset[str]:
        """All that any part is called by."""
        return frozenset().union(*(part.grain.tags for part in self.all))

    def called(self, tags: Collection[str]) -> list[Part]:
        """The parts that are called by any of some tags."""
        wanted = frozenset(tags)
        return [part for part in self.all if not wanted.isdisjoint(part.grain.tags)]

    def acting(self, classes: Collection[str], functions: Collection[str]) -> list[Part]:
        """The parts that act in some way: in one of the classes, or of a material with one of the functions.

        Of a material that has the function, what is in a class is meant, and all of it where nothing is: not the
        glycol that the preservative is dissolved in.
        """
        by_class = self.called([class_tag(name) for name in classes])
        known = {part.grain.material for part in by_class}
        by_function = self.called([f"function:{name}" for name in functions])
        return by_class + [part for part in by_function if part.grain.material not in known]

    @cached_property
    def water(self) -> Fraction:
        """All water in % of the product."""
        return self.sums.substances.get("aqua", Fraction(0))

    @cached_property
    def wet_phases(self) -> frozenset[str]:
        """Name the phases of the recipe that are mostly water enough to dissolve something."""
        masses: dict[str, list[Fraction]] = {}
        for line in self.sums.composition.lines:
            mass = masses.setdefault(line.charge.phase, [Fraction(0), Fraction(0)])
            mass[0] += line.pct
            mass[1] += line.pct * self.water_in(line.charge.ingredient) / HUNDRED
        return frozenset(phase for phase, (whole, wet) in masses.items() if whole and wet * HUNDRED >= whole * _WATERY)

    @cached_property
    def water_by_charge(self) -> dict[str, Fraction]:
        """The water in each charge in % of it, by its key, each ingredient looked at once."""
        names = {line.charge.ingredient for line in self.sums.composition.lines}
        known = {name: self.water_in(name) for name in names}
        return {line.charge.key: known[line.charge.ingredient] for line in self.sums.composition.lines}

    def water_in(self, name: str) -> Fraction:
        """The water in an ingredient in % of it, premixes seen through."""
        if name in self._premix_water:
            return self._premix_water[name]
        material = self.sums.formula.ingredients.get(name)
        contents = material.contents if material is not None else ()
        return sum((pct for key, pct in contents if key == "aqua"), Fraction(0))

    @cached_property
    def _premix_water(self) -> dict[str, Fraction]:
        """The water in each premix in % of it: inner ones first, so the walk stays flat."""
        found: dict[str, Fraction] = {}
        for name in self.sums.formula.order:
            recipe, wet = self.sums.formula.premix_of(name), Fraction(0)
            for inner, pct in self.sums.premix(recipe.id).by_ingredient().items() if recipe is not None else ():
                if inner in found:
                    wet += pct * found[inner] / HUNDRED
                elif (material := self.sums.formula.ingredients.get(inner)) is not None:
                    wet += pct * sum((part for key, part in material.contents if key == "aqua"), Fraction(0)) / HUNDRED
            found[name] = wet
        return found

    @cached_property
    def water_in_oil(self) -> bool:
        """Say whether water is dispersed in oil in the recipe: as it states its kind, or by the emulsifiers there."""
        recipe = self.sums.formula.recipe
        kind = recipe.get("emulsion")
        if kind is not None:
            return holds_water_in_oil(kind)
        if recipe.get("form") != "emulsion" or self.water < WET:
            return False
        amounts = {name: total(self.called([class_tag(name)])) for name in ("W/O emulsifier", *_OTHER_WAY)}
        return amounts["W/O emulsifier"] >= max(_WATER_IN_OIL, sum(amounts[name] for name in _OTHER_WAY))


def total(parts: Iterable[Part]) -> Fraction:
    """What some parts are together, in % of the product."""
    return sum((part.pct for part in parts), Fraction(0))


def percent(value: Fraction) -> str:
    """Write % of the product shortly; what is scarce with more decimals."""
    return f"{shown(value, 2 if value >= Fraction(1, 10) else 4, 4)} %"


def parts_of(sums: Breakdown) -> Parts:
    """The parts of a formula, the same for everybody who asks."""
    return sums.cached("parts", lambda: Parts(sums))
