"""One recipe before the pairs that do not go together: which it has, and which cannot be judged."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Final

from formula_vcs.chemistry.pair_rows import Tagged
from formula_vcs.figures.substance_parts import WET, Part, Parts, parts_of, percent, total
from formula_vcs.law.packs_in_force import product
from formula_vcs.model.finding import Severity
from formula_vcs.model.law_row import EVERYTHING
from formula_vcs.model.pair import Pair, Side, class_tag
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import SHEAR_MODES
from formula_vcs.model.values import dataclass, field
from formula_vcs.process.simulate import Exposure
from formula_vcs.rules.process.addition_order import Meeting, meetings
from formula_vcs.rules.rule import Case
from formula_vcs.words.numbers import shown

_MOST: Final = 100  # parts of a side, the largest, that are held against each other; no product has as many
_DRY: Final = frozenset({"anhydrous", "powder"})


@dataclass
class PairFound:
    """A pair that a recipe has: the parts of both sides, what else makes it one, and the charge to point at."""

    pair: Pair
    one: list[Part]
    other: list[Part] = field(default_factory=list)
    conditions: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)

    @property
    def severity(self) -> Severity:
        """How bad it is here: what is in doubt is no more than a note, unless the house blocks it."""
        return "note" if self.doubts and self.pair.severity == "warn" else self.pair.severity

    @property
    def at(self) -> Part:
        """The part to point at: the largest of the side that disturbs."""
        return max(self.other or self.one, key=lambda part: part.pct)


class PairJudge:
    """One recipe before the pairs."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.parts: Parts = parts_of(case.sums)
        self.product = product(case.recipe.product)
        self._met: dict[str, dict[str, Meeting]] = {}

    def found(self, row: Tagged) -> PairFound | str | None:
        """The pair where the recipe has it; "no pH" where all of it fits and no pH is stated."""
        tags = self.parts.tags
        pair = row.pair
        if row.one.isdisjoint(tags) or (pair.other is not None and row.other.isdisjoint(tags)) or not self._meant(pair):
            return None
        found = PairFound(pair, self._side(pair.one))
        if not found.one:
            return None
        if pair.other is not None:
            found.other = self._side(pair.other, without=found.one)
            if not found.other or not self._together(found):
                return None
        elif pair.together == "water" and not self._wet(found.one):
            return None
        if pair.without is not None and not self._lacks(found, pair.without):
            return None
        if pair.hot is not None and not self._hot(found, pair.hot):
            return None
        if pair.asks_pH and not self._pH(found):
            return "no pH" if self.pH is None else None
        if any(part.grain.guessed for part in (*found.one, *found.other)):
            self._guessed(found)
        return found

    def _meant(self, pair: Pair) -> bool:
        """Say whether a row is about this kind of product; a premix is judged only by what meets in it."""
        if pair.emulsion and not self.parts.water_in_oil:
            return False
        if self.case.recipe.is_premix and (pair.asks_pH or pair.without is not None):
            return False
        if self.product is None:
            return pair.where == EVERYTHING
        return self.product.fits(pair.where) and not self.product.touches(pair.unless)

    def _side(self, side: Side, without: list[Part] | None = None) -> list[Part]:
        """The parts of a side, nothing where they are no more than it leaves alone."""
        mine = {(part.charge, part.grain.material, part.grain.key) for part in without or ()}
        found = [
            part
            for part in self.parts.called(side.tags)
            if part.pct > 0 and (part.charge, part.grain.material, part.grain.key) not in mine
        ]
        return found if total(found) > side.above else []

    def _together(self, found: PairFound) -> bool:
        """Keep the parts that come together as the row asks; what a supplier sells as one material is his business."""
        near = self._near(found)
        ones, others = (sorted(side, key=lambda part: -part.pct)[:_MOST] for side in (found.one, found.other))
        pairs = [
            (one, other)
            for one in ones
            for other in others
            if one.grain.material != other.grain.material and near(one, other)
        ]
        kept = {id(part) for pair in pairs for part in pair}
        found.one = [part for part in found.one if id(part) in kept]
        found.other = [part for part in found.other if id(part) in kept]
        other = found.pair.other
        # what does not come near counts for no amount
        enough = other is not None and total(found.one) > found.pair.one.above and total(found.other) > other.above
        return bool(pairs) and enough

    def _near(self, found: PairFound) -> Callable[[Part, Part], bool]:
        if found.pair.together == "water":
            return self._in_water
        if found.pair.together == "vessel":
            return lambda one, other: self._in_vessel(found, one, other)
        if found.pair.together == "phase":
            return lambda one, other: one.phase == other.phase
        return lambda _one, _other: True

    def _wet(self, parts: list[Part]) -> bool:
        return any(self._in_water(part, part) for part in parts)

    def _in_water(self, one: Part, other: Part) -> bool:
        if self.parts.water < WET or self.case.recipe.get("form") in _DRY:
            return False
        phases = self.parts.wet_phases
        return not self.parts.water_in_oil or (one.phase in phases and other.phase in phases)

    def _in_vessel(self, found: PairFound, one: Part, other: Part) -> bool:
        if one.charge not in self._met:
            self._met[one.charge] = meetings(self.case.sums.walk, one.charge)
        met = self._met[one.charge].get(other.charge)
        if met is None:
            return False
        pair = found.pair
        if pair.first:
            wanted = "self" if pair.first == "one" else "other"
            if met.first not in (wanted, "neither"):
                return False
            _add(found.conditions, f"in step '{met.step.id}'")
            if met.first == "neither":
                _add(found.doubts, "both go in at once, and nothing says which is first")
        if pair.rough:
            step = self._rough(one, other, pair.rough)
            if step is None:
                return False
            _add(found.conditions, f"at {step.shear} shear in step '{step.step.id}'")
        return True

    def _rough(self, one: Part, other: Part, least: str) -> Exposure | None:
        """A step that both are in the vessel for and that works at least so roughly."""
        exposures = self.case.sums.walk.exposures
        there = {exposure.step.id for exposure in exposures.get(other.charge, ())}
        rough = SHEAR_MODES.index(least)
        return next(
            (
                exposure
                for exposure in exposures.get(one.charge, ())
                if exposure.step.id in there and SHEAR_MODES.index(exposure.shear) >= rough
            ),
            None,
        )

    def _lacks(self, found: PairFound, side: Side) -> bool:
        there = total(self.parts.called(side.tags))
        if there > side.above:
            return False
        if there:
            _add(found.conditions, f"with only {percent(there)} of {side.words}, not above {percent(side.above)}")
        else:
            _add(found.conditions, f"with no {side.words}")
        return True

    def _hot(self, found: PairFound, limit: Fraction) -> bool:
        for part in found.one:
            for exposure in self.case.sums.walk.exposures.get(part.charge, ()):
                warmth = exposure.warmth
                top = None if warmth is None else warmth.high if warmth.high is not None else warmth.low
                if top is not None and top > limit:
                    _add(found.conditions, f"above {found.pair.hot_said} in step '{exposure.step.id}'")
                    return True
        return False

    @property
    def pH(self) -> Range | None:
        """The pH range of the spec, or the one that a step accepts."""
        spec = self.case.recipe.spec.get("pH")
        steps = (step.span("accept") for step in self.case.recipe.steps if step.measure == "pH")
        return spec if spec is not None else next((span for span in steps if span is not None), None)

    def _pH(self, found: PairFound) -> bool:
        """Compare the whole of the pH range with the row: an end of it that reaches over is a doubt."""
        span, pair = self.pH, found.pair
        if span is None:
            return False
        low, high = (None if end is None else end.base for end in (span.low, span.high))
        if pair.above_pH is not None:
            side, limit, near, far = "above", pair.above_pH, low, high
            out = far is None or far > limit, near is not None and near > limit
        else:
            side, limit, near, far = "below", pair.below_pH or Fraction(0), high, low
            out = far is None or far < limit, near is not None and near < limit
        if not out[0]:
            return False
        _add(found.conditions, f"at pH {span}, {side} {shown(limit, 0, 2)}")
        if not out[1]:
            _add(found.doubts, "an end of the range only")
        return True

    @staticmethod
    def _guessed(found: PairFound) -> None:
        """Say which substances are on their side only by a class that their name alone says."""
        names = dict.fromkeys(
            part.grain.spelled
            for side, parts in ((found.pair.one, found.one), (found.pair.other, found.other))
            for part in parts
            if side is not None and part.grain.guessed and _by_class(part, side)
        )
        if names:
            _add(found.doubts, f"the class of {', '.join(names)} is known by the name alone")


def _by_class(part: Part, side: Side) -> bool:
    named = part.grain.key in side.substances or any(f"function:{name}" in part.grain.tags for name in side.functions)
    return not named and any(class_tag(name) in part.grain.tags for name in side.classes)


def _add(words: list[str], more: str) -> None:
    if more not in words:
        words.append(more)
