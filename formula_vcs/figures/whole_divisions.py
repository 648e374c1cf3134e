"""Masses as whole divisions of their balances that add up exactly to a batch.

Each line becomes the whole number of divisions below or above its exact mass.  Of all choices that add up, the one with
the least squared deviations is taken, counted in divisions of each line's own balance.  With one division that is the
largest remainder (the method of Hamilton).  Of equal lines the larger one moves, then the one that stands first.

A line whose exact mass is a whole number of divisions keeps it; only where nothing else adds up may it take or give one
division.  So every target lies within one division of exact.

With several divisions there may be no such choice: two lines, one by 20 g and one by 0.01 g, seldom make 10 kg.  Then
the batch gives way, to the nearest size that has one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import accumulate
from math import ceil, floor, gcd, lcm
from typing import Final, NamedTuple

# Balances step by 1, 2 or 5 times a power of ten, and need some tens of either.  A file may state any number.
_MOST_STATES: Final = 2000
_MOST_NODES: Final = 4000


class Item(NamedTuple):
    """What is rounded: its share of the batch (0 to 1), its division (kg), and what its balance can weigh (kg)."""

    share: Fraction
    division: Fraction
    least: Fraction = Fraction(0)
    most: Fraction | None = None


class _Up(NamedTuple):
    """One division more for one line, in the order in which they are taken: what it does to the deviations, and who."""

    whole: int
    squares: Fraction
    turn: tuple[Fraction, int]
    line: int


class _Cost(NamedTuple):
    """How good a choice is: the lines off by a whole division, then the squares; with the ups of each group."""

    whole: int
    squares: Fraction
    ups: tuple[int, ...] = ()


def add_up(items: Sequence[Item], size: Fraction, *, at_least: bool = False) -> list[Fraction] | None:
    """Whole divisions (kg) that add up to a batch of ``size`` kg, or to the nearest size that has such.

    With ``at_least`` no smaller size is taken.  ``items`` have shares that add up to 1.  What can stay within the
    limits of its balance does.  None where no size nearby has a choice, which takes balances whose divisions are no
    multiples of each other.
    """
    step = common(item.division for item in items)
    wanted = ceil(size / step) * step if at_least else nearest(size, step)
    for guarded in (True, False):
        found = _chosen(items, wanted, step, guarded=guarded)
        if found is None:
            near = _Search(items, size, guarded=guarded).size(size if at_least else Fraction(0))
            found = None if near is None else _chosen(items, near, step, guarded=guarded)
        if found is not None:
            return found
    return None


def nearest(mass: Fraction, division: Fraction) -> Fraction:
    """The nearest multiple of a division, a half going up."""
    return floor(mass / division + Fraction(1, 2)) * division


def common(divisions: Iterable[Fraction]) -> Fraction:
    """The greatest mass of which all divisions are multiples.

    >>> common([Fraction(1, 2), Fraction(1, 5)])
    Fraction(1, 10)
    """
    found = list(divisions)
    bottom = lcm(*(one.denominator for one in found))
    return Fraction(gcd(*(int(one * bottom) for one in found)), bottom)


def _by_division(items: Sequence[Item]) -> dict[Fraction, list[int]]:
    """The indices of the lines of each division, the coarsest first."""
    divisions = sorted({item.division for item in items}, reverse=True)
    return {division: [i for i, item in enumerate(items) if item.division == division] for division in divisions}


def _bounds(item: Item, size: Fraction, *, guarded: bool) -> tuple[int, int]:
    """The fewest and the most divisions of a line: within one of exact.

    Guarded, what rounds to something that its balance can weigh stays so; what does not is not lifted to it.
    """
    exact = item.share * size / item.division
    low, high = ceil(exact) - 1, floor(exact) + 1
    if guarded:
        alone = floor(exact + Fraction(1, 2))
        least = max(ceil(item.least / item.division), 1)
        if least <= alone:
            low = max(low, least)
        if item.most is not None and alone <= item.most / item.division:
            high = min(high, floor(item.most / item.division))
    return low, high


# --- one size


def _chosen(items: Sequence[Item], size: Fraction, step: Fraction, *, guarded: bool) -> list[Fraction] | None:
    """The best choice that adds up to a size, None where there is none."""
    bounds = [_bounds(item, size, guarded=guarded) for item in items]
    counts = [low for low, _ in bounds]
    groups = [
        (int(division / step), sorted(_ups(items, bounds, members, size)))
        for division, members in _by_division(items).items()
    ]
    left = size - sum((low * item.division for low, item in zip(counts, items, strict=True)), Fraction(0))
    best = _best(groups, int(left / step))
    if best is None:
        return None
    for (_, ups), taken in zip(groups, best.ups, strict=True):
        for up in ups[:taken]:
            counts[up.line] += 1
    return [count * item.division for count, item in zip(counts, items, strict=True)]


def _ups(
    items: Sequence[Item], bounds: Sequence[tuple[int, int]], members: Sequence[int], size: Fraction
) -> Iterator[_Up]:
    """Every division that lines may take above their fewest; a line's own come in order, as squares are convex."""
    for index in members:
        exact = items[index].share * size / items[index].division
        for count in range(*bounds[index]):
            before, after = abs(count - exact), abs(count + 1 - exact)
            whole = (after == 1) - (before == 1)
            # a division back to an exact mass goes to the small lines first, so that a large one is left to give it
            turn = (items[index].share, -index) if whole < 0 else (-items[index].share, index)
            yield _Up(whole, after**2 - before**2, turn, index)


def _best(groups: Sequence[tuple[int, list[_Up]]], left: int) -> _Cost | None:
    """Find how many ups each group takes so that ``left`` steps are used up, at the least cost.

    Within a group the ups are taken in order: nothing is better, as they are sorted by what they cost.
    """
    states = {left: _Cost(0, Fraction(0))} if left >= 0 else {}
    for number, (division, ups) in enumerate(groups):
        rest = groups[number + 1 :]
        reach = sum(other * len(theirs) for other, theirs in rest)
        common = gcd(*(other for other, _ in rest))
        costs = list(accumulate(ups, lambda sums, up: (sums[0] + up.whole, sums[1] + up.squares), initial=_FREE))
        following: dict[int, _Cost] = {}
        for needed, cost in states.items():
            for taken in range(min(len(ups), needed // division), max(-1, -((reach - needed) // division) - 1), -1):
                after = needed - taken * division
                if after % common if common else after:
                    continue
                whole, squares = costs[taken]
                new = _Cost(cost.whole + whole, cost.squares + squares, (*cost.ups, taken))
                if after not in following or new[:2] < following[after][:2]:
                    following[after] = new
        states = following
        if len(states) > _MOST_STATES:
            from heapq import nsmallest

            states = dict(nsmallest(_MOST_STATES, states.items(), key=lambda state: state[1][:2]))
    return states.get(0)


_FREE: Final = (0, Fraction(0))


# --- the nearest size


class _Search:
    """The search for the size nearest to the one that was asked for, from the coarsest division to the finest.

    Once some divisions have their totals, the size lies within what the finer ones can be off: that leaves few totals.
    """

    def __init__(self, items: Sequence[Item], asked: Fraction, *, guarded: bool) -> None:
        """Take the lines and the size asked for."""
        self._asked = asked
        self._guarded = guarded
        self._groups = [
            (division, [items[index] for index in members]) for division, members in _by_division(items).items()
        ]
        self._nodes = 0
        self._best: Fraction | None = None
        division, coarsest = self._groups[0]
        # a step of the coarsest division, in terms of the batch, is at most this wide
        self._width = 2 * division / sum((item.share for item in coarsest), Fraction(0))

    def size(self, least: Fraction) -> Fraction | None:
        """The nearest size from ``least`` on that has a choice; None where none was found."""
        lowest = max(self._asked - self._width, least)
        self._look([], Fraction(0), Fraction(0), (lowest, self._asked + self._width))
        return self._best

    def _look(self, totals: list[int], fixed: Fraction, covered: Fraction, span: tuple[Fraction, Fraction]) -> None:
        """Settle the total of the next division; ``fixed`` kg are settled, and are ``covered`` of the batch."""
        number = len(totals)
        if number == len(self._groups):
            self._take(totals, fixed)
            return
        division, members = self._groups[number]
        share = covered + sum((item.share for item in members), Fraction(0))
        off = sum((len(theirs) * other for other, theirs in self._groups[number + 1 :]), Fraction(0))
        low, high = self._sums(number, span[0])[0], self._sums(number, span[1])[1]
        middle = min(max(round((share * self._asked - fixed) / division), low), high)
        for total in _outward(middle, low, high):
            self._nodes += 1
            mass = fixed + total * division
            inner = self._inner(span, (mass - off) / share, (mass + off) / share)
            if self._nodes > _MOST_NODES:
                return
            if inner[0] > inner[1]:
                continue
            if self._sums(number, inner[0])[0] <= total <= self._sums(number, inner[1])[1]:
                self._look([*totals, total], mass, share, inner)

    def _inner(self, span: tuple[Fraction, Fraction], low: Fraction, high: Fraction) -> tuple[Fraction, Fraction]:
        """Narrow a span, and to what is nearer than the best so far."""
        near = self._width if self._best is None else abs(self._best - self._asked)
        return max(span[0], low, self._asked - near), min(span[1], high, self._asked + near)

    def _take(self, totals: list[int], size: Fraction) -> None:
        for number, total in enumerate(totals):
            low, high = self._sums(number, size)
            if not low <= total <= high:
                return
        if self._best is None or (abs(size - self._asked), -size) < (abs(self._best - self._asked), -self._best):
            self._best = size

    def _sums(self, number: int, size: Fraction) -> tuple[int, int]:
        """The fewest and the most divisions that the lines of a group can add up to at a size."""
        bounds = [_bounds(item, size, guarded=self._guarded) for item in self._groups[number][1]]
        return sum(low for low, _ in bounds), sum(high for _, high in bounds)


def _outward(middle: int, low: int, high: int) -> Iterator[int]:
    """The numbers from low to high, the nearest to the middle first."""
    yield from sorted(range(low, high + 1), key=lambda number: (abs(number - middle), -number))
