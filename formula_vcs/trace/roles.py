"""What the steps of a recipe do: wet a gum, hydrate it, emulsify, cool ...; and which materials are there meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient, is_water
from formula_vcs.model.values import dataclass
from formula_vcs.process.simulate import StepState, Warmth
from formula_vcs.trace.cause_table import causes

GUMS: Final = frozenset({"thickener", "stabiliser", "film former", "binder"})
_OILS: Final = frozenset({"emollient", "structurant", "co-emulsifier", "gloss"})
_EMULSIFIERS: Final = frozenset({"emulsifier", "co-emulsifier"})
_POWDERS: Final = frozenset({"abrasive", "absorbent", "opacifier", "texturiser", "thickener"})
_STRONG: Final = frozenset({"medium", "high", "very high"})
_SET_PH: Final = frozenset({"pH adjuster", "buffer", "preservative"})
_ALKALIS: Final = frozenset({
    "sodium carbonate", "sodium bicarbonate", "arginine", "tromethamine", "triethanolamine", "aminomethyl propanol",
})  # fmt: skip
_NO_BASES: Final = ("acid", "phosphate", "hydrogen", "sulfite", "chloride", "sulfate")
_HALF: Final = 50
_WARM: Final = Fraction(5)  # K by which a step must differ from the one before to heat or to cool
_MOLTEN: Final = Fraction("318.15")  # 45 degC, below which the network of fatty alcohols sets (common practice)


@dataclass(frozen=True, slots=True)
class Doing:
    """What a step does (``roles``), and the functions of all that is in its vessel."""

    roles: frozenset[str]
    functions: frozenset[str]


def functions_of(formula: Formula, ingredient: str) -> frozenset[str]:
    """Name what a material does, in the words of the table: its own functions, of a premix those of what is in it."""
    inside = (formula.ingredients.get(name) for name in _inside(formula, ingredient))
    return frozenset(name for material in inside if material is not None for name in _own(material))


def _own(material: Ingredient) -> Iterator[str]:
    """Name what one material does; what sets a pH is told to be an acid or an alkali by the names of its substances."""
    table = causes()
    named = {table.function(word) for word in material.functions}
    yield from named
    if named & _SET_PH:
        inci = [name.casefold() for name in material.substances]
        if any(name.endswith(" acid") for name in inci):
            yield "acid"
        if any(_takes_up_acid(name) for name in inci):
            yield "alkali"


def _takes_up_acid(inci: str) -> bool:
    """Say whether a substance is an alkali, or the salt of a weak acid: not one that is half acid still."""
    if inci in _ALKALIS or inci.endswith(" hydroxide"):
        return True
    salt = inci.startswith(("sodium ", "potassium ", "disodium ", "trisodium ", "calcium "))
    return salt and not any(word in inci for word in _NO_BASES)


def leaves_of(formula: Formula, ingredient: str) -> frozenset[str]:
    """Name the raw materials that a material is, or that a premix is made of."""
    return frozenset(name for name in _inside(formula, ingredient) if formula.premix_of(name) is None)


def _inside(formula: Formula, ingredient: str) -> Iterator[str]:
    """Give a material and, of a premix, all that is in it at any depth."""
    waiting, seen = [ingredient], {ingredient}
    while waiting:
        name = waiting.pop()
        yield name
        premix = formula.premix_of(name)
        inside = [] if premix is None else [inner for inner in premix.uses if inner not in seen]
        seen.update(inside)
        waiting += inside


def doings(sums: Breakdown) -> Mapping[str, Doing]:
    """Give what each step of a recipe does, by its id."""
    found: dict[str, Doing] = sums.cached("doings", lambda: _Reader(sums).read())
    return found


class _Reader:
    """One reading of a walk, step by step."""

    def __init__(self, sums: Breakdown) -> None:
        self.sums = sums
        formula = sums.formula
        charges = {charge.key: charge.ingredient for charge in formula.recipe.charges}
        self.functions = {key: functions_of(formula, name) for key, name in charges.items()}
        self.watery = {key for key, name in charges.items() if _watery(formula, name)}
        # a premixed gel has swollen already
        self.swollen = {key for key, name in charges.items() if formula.premix_of(name) and key in self.watery}
        self.last_warmth: dict[str, Warmth] = {}
        self.emulsified: set[str] = set()
        self.cooled: set[str] = set()

    def read(self) -> dict[str, Doing]:
        found = {}
        for stage in self.sums.walk.stages:
            content = set(stage.contents.get(stage.vessel, ()))
            roles = set(self._roles(stage, content))
            functions = {name for key in content for name in self.functions[key]}
            found[stage.step.id] = Doing(frozenset(roles or {"stir"}), frozenset(functions))
        return found

    def _any(self, content: Iterable[str], wanted: frozenset[str]) -> bool:
        return any(self.functions[key] & wanted for key in content)

    def _strong(self, stage: StepState) -> bool:
        return (stage.step.shear or self.sums.numbers(stage.step).shear_class) in _STRONG

    def _roles(self, stage: StepState, content: set[str]) -> Iterable[str]:
        step = stage.step
        fresh = {key for arrival in stage.arrivals for key in arrival.keys}
        yield from self._of_gums(stage, content)
        yield from self._of_heat(stage, content, fresh)
        if step.joins:
            yield "join"
        if step.span("rest") is not None:
            yield "rest"
        if step.adjust or self._any(fresh, frozenset({"acid", "pH adjuster"})):
            yield "acidify"
        if self._any(fresh, _POWDERS) and self._strong(stage):
            yield "disperse"

    def _of_gums(self, stage: StepState, content: set[str]) -> Iterable[str]:
        gums = {key for key in content if self.functions[key] & GUMS}
        dry = gums - self.swollen
        wet = bool(content & self.watery)
        strong = self._strong(stage)
        if dry and not wet and content != dry:
            yield "wet"
        if strong and gums & self.swollen:
            yield "reshear"
        if dry and wet:
            yield "hydrate"
            self.swollen |= {key for key in dry if strong or not self._torn_later(stage, key)}

    def _torn_later(self, stage: StepState, key: str) -> bool:
        """Say whether a gum sees strong shear in a later step: that one then opens it."""
        later = [e.step for e in self.sums.walk.exposures.get(key, ()) if e.step.index > stage.step.index]
        return any((step.shear or self.sums.numbers(step).shear_class) in _STRONG for step in later)

    def _of_heat(self, stage: StepState, content: set[str], fresh: set[str]) -> Iterable[str]:
        vessel, warmth = stage.vessel, stage.warmth.get(stage.vessel)
        before = self.last_warmth.get(vessel)
        wet, oily = bool(content & self.watery), self._any(content, _OILS)
        cold = warmth is not None and warmth.high is not None and warmth.high < _MOLTEN
        if oily and not wet and warmth is not None and warmth.low is not None and warmth.low >= _MOLTEN:
            yield "melt"
        if oily and wet and self._any(content, _EMULSIFIERS):
            if self._strong(stage) and not cold:
                yield "emulsify"
                self.emulsified.add(vessel)
            elif vessel in self.emulsified and cold and stage.step.shear not in (None, "none"):
                yield "shear-cold"
        if warmth is not None and before is not None and warmth.stated:
            if _apart(before.high, warmth.low) >= _WARM:
                yield "heat"
            elif _apart(warmth.high, before.low) >= _WARM:
                yield "cool"
                self.cooled.add(vessel)
        if fresh and vessel in self.cooled:
            yield "finish"
        if warmth is not None:
            self.last_warmth[vessel] = warmth


def _apart(lower: Fraction | None, upper: Fraction | None) -> Fraction:
    return Fraction(0) if lower is None or upper is None else upper - lower


def _watery(formula: Formula, ingredient: str) -> bool:
    """Say whether a material is mostly water, a premix by what it mostly is."""
    waiting, seen = [ingredient], {ingredient}
    while waiting:
        name = waiting.pop()
        material = formula.ingredients.get(name)
        premix = formula.premix_of(name)
        if premix is not None:
            balance = next((charge.ingredient for charge in premix.charges if charge.balance), None)
            if balance is not None and balance not in seen:
                seen.add(balance)
                waiting.append(balance)
        elif material is not None and sum(pct for inci, pct in material.substances.items() if is_water(inci)) >= _HALF:
            return True
    return False
