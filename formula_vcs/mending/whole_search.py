"""The least change in whole steps that meets linear conditions: exact, by branching on fractions.

Every set of at most so many charges is looked at; a bound that a linear program gives says which need not be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from itertools import combinations
from math import floor
from typing import Final, NamedTuple

from formula_vcs.mending.exact_lp import AtLeast, Optimum, cheapest
from formula_vcs.model.values import dataclass, field

MOST_NODES: Final = 40_000  # linear programs in one search
Whole = tuple[int, ...]


class TooManyError(Exception):
    """The search is broken off: there is more to try than is tried."""


class Condition(NamedTuple):
    """What has to hold: ``start`` plus the sum of ``slopes`` times the steps of each charge is not below 0."""

    name: str
    start: Fraction
    slopes: tuple[Fraction, ...]

    def left(self, moves: Sequence[int]) -> Fraction:
        """Give what is left above 0, below it what is missing."""
        return self.start + sum((slope * move for slope, move in zip(self.slopes, moves, strict=True)), Fraction(0))


@dataclass(frozen=True)
class Steps:
    """What may move: for each charge how many steps down and up at most, and what one step up costs.

    ``weight`` is what any one step costs, in either direction, beside that.
    """

    down: Whole
    up: Whole
    prices: tuple[Fraction, ...]
    weight: Fraction

    def one(self, place: int, move: int) -> Fraction:
        """Give what the move of one charge costs."""
        return self.prices[place] * move + self.weight * abs(move)

    def cost(self, moves: Sequence[int]) -> Fraction:
        """Give what some moves cost."""
        return sum((self.one(place, move) for place, move in enumerate(moves)), Fraction(0))


@dataclass
class WholeSearch:
    """Looks for the moves of at most ``most`` charges that cost least, meet all conditions and are ``accepted``."""

    steps: Steps
    conditions: tuple[Condition, ...]
    most: int
    accepted: Callable[[Whole], bool] = lambda _: True
    _nodes: int = 0
    _best: tuple[Fraction, Whole] | None = None
    _tried: dict[Whole, bool] = field(default_factory=dict)

    def found(self) -> Whole | None:
        """Give the cheapest moves; of those as cheap, those of fewest charges, the first in the order of the file.

        :raises TooManyError: that would take more than is tried.
        """
        count = len(self.steps.down)
        self._best = None
        standing = (0,) * count
        if all(one.left(standing) >= 0 for one in self.conditions) and self._accepted(standing):
            self._best = Fraction(0), standing
        movable = [i for i in range(count) if self.steps.down[i] or self.steps.up[i]]
        for size in range(1, min(self.most, len(movable)) + 1):
            for chosen in self._hopeful(combinations(movable, size)):
                self._branch(chosen, [(-self.steps.down[i], self.steps.up[i]) for i in chosen])
        return None if self._best is None else self._best[1]

    def _hopeful(self, sets: Iterable[tuple[int, ...]]) -> Iterable[tuple[int, ...]]:
        """Leave out sets that cannot meet one condition, by the most that each charge can do for it."""
        reach = [
            [
                max(slope * up, -slope * down)
                for slope, up, down in zip(one.slopes, self.steps.up, self.steps.down, strict=True)
            ]
            for one in self.conditions
        ]
        for chosen in sets:
            hopeful = all(
                one.start + sum(does[i] for i in chosen) >= 0 for one, does in zip(self.conditions, reach, strict=True)
            )
            if hopeful and (self._best is None or self._at_least(chosen) < self._best[0]):
                yield chosen

    def _at_least(self, chosen: tuple[int, ...]) -> Fraction:
        """Give what a set costs at least, where every step costs the same: by the charge that does most for a need."""
        if any(self.steps.prices):
            steps = self.steps
            return sum(
                (min(steps.one(i, -steps.down[i]), steps.one(i, steps.up[i]), Fraction(0)) for i in chosen), Fraction(0)
            )
        needs = [
            -one.start / most
            for one in self.conditions
            if one.start < 0 and (most := max(abs(one.slopes[i]) for i in chosen))
        ]
        return max(needs, default=Fraction(0)) * self.steps.weight

    def _branch(self, chosen: tuple[int, ...], first: list[tuple[int, int]]) -> None:
        waiting = [first]
        while waiting:
            box = waiting.pop()
            if any(low > high for low, high in box):
                continue
            self._nodes += 1
            if self._nodes > MOST_NODES:
                raise TooManyError
            found = self._relaxed(chosen, box)
            if found is None or (self._best is not None and found[0] >= self._best[0]):
                continue
            part = next((i for i, move in enumerate(found[1]) if move.denominator != 1), None)
            if part is not None:
                below = floor(found[1][part])
                waiting += _split(box, part, below)
                continue
            moves = [0] * len(self.steps.down)
            for i, move in zip(chosen, found[1], strict=True):
                moves[i] = int(move)
            if self._accepted(tuple(moves)):
                self._best = self.steps.cost(moves), tuple(moves)
            else:
                for i, move in enumerate(found[1]):
                    # all other points of the box, each once
                    low, high = box[i]
                    waiting.append([*box[:i], (low, int(move) - 1), *box[i + 1 :]])
                    waiting.append([*box[:i], (int(move) + 1, high), *box[i + 1 :]])
                    box = [*box[:i], (int(move), int(move)), *box[i + 1 :]]

    def _relaxed(self, chosen: tuple[int, ...], box: list[tuple[int, int]]) -> tuple[Fraction, list[Fraction]] | None:
        """Give the cheapest moves inside a box, whole or not.

        Each charge is two variables, up and down; one whose cost is below 0 is counted from its far end instead, so
        that no cost is.
        """
        weight, costs, offset, signs = self.steps.weight, [], Fraction(0), []
        spans: list[int] = []
        for i, (low, high) in zip(chosen, box, strict=True):
            for sign, least, most in ((1, max(low, 0), max(high, 0)), (-1, max(-high, 0), max(-low, 0))):
                cost = sign * self.steps.prices[i] + weight
                origin = least if cost >= 0 else most
                costs.append(abs(cost))
                offset += cost * origin
                signs.append((i, sign, sign if cost >= 0 else -sign, origin))
                spans.append(most - least)
        rows = []
        for one in self.conditions:
            factors = tuple(one.slopes[i] * turned for i, _, turned, _ in signs)
            start = one.start + sum((one.slopes[i] * sign * origin for i, sign, _, origin in signs), Fraction(0))
            rows.append(AtLeast(factors, -start))
        for place, span in enumerate(spans):
            rows.append(AtLeast(tuple(Fraction(-(other == place)) for other in range(len(spans))), Fraction(-span)))
        best = self._by_need(costs, rows)
        if best is None:
            return None
        values = [sign * origin + turned * at for (_, sign, turned, origin), at in zip(signs, best.at, strict=True)]
        return best.cost + offset, [values[place] + values[place + 1] for place in range(0, len(values), 2)]

    @staticmethod
    def _by_need(costs: Sequence[Fraction], rows: Sequence[AtLeast]) -> Optimum | None:
        """Take up a condition only where what was found without it breaks it: most never do."""
        taken = [row for row in rows if row.bound > 0]
        others = [row for row in rows if row.bound <= 0]
        while True:
            best = cheapest(costs, taken)
            if best is None:
                return None
            broken = [row for row in others if _sum(row.factors, best.at) < row.bound]
            if not broken:
                return best
            taken += broken
            others = [row for row in others if row not in broken]

    def _accepted(self, moves: Whole) -> bool:
        if moves not in self._tried:
            self._tried[moves] = self.accepted(moves)
        return self._tried[moves]


def _sum(factors: Sequence[Fraction], values: Sequence[Fraction]) -> Fraction:
    return sum((factor * value for factor, value in zip(factors, values, strict=True) if factor and value), Fraction(0))


def _split(box: list[tuple[int, int]], part: int, below: int) -> list[list[tuple[int, int]]]:
    low, high = box[part]
    return [
        [*box[:part], (below + 1, high), *box[part + 1 :]],
        [*box[:part], (low, below), *box[part + 1 :]],
    ]


def steps_between(now: Fraction, low: Fraction, high: Fraction, step: Fraction) -> tuple[int, int]:
    """Give how many whole steps down and up an amount may move between two bounds."""
    return max(floor((now - low) / step), 0), max(floor((high - now) / step), 0) if high >= now else 0
