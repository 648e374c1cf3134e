"""Linear programs in fractions: a bound that nothing rounds, for few variables.

The dual simplex method with Bland's rule (R. G. Bland, Mathematics of Operations Research 2 (1977) 103).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

ZERO = Fraction(0)


class AtLeast(NamedTuple):
    """One condition: the sum of ``factors`` times the variables is at least ``bound``."""

    factors: tuple[Fraction, ...]
    bound: Fraction


class Optimum(NamedTuple):
    """The least cost and where it is reached."""

    cost: Fraction
    at: tuple[Fraction, ...]


def cheapest(costs: Sequence[Fraction], conditions: Sequence[AtLeast]) -> Optimum | None:
    """Give variables, none below 0, that cost least and meet all conditions; None where none do.

    ``costs`` are not below 0, so that standing still costs least of all where no condition asks for more.
    """
    count = len(costs)
    width = count + len(conditions)
    # each row: slack = factors * x - bound; the tableau holds -factors, so that the basis of slacks is the identity
    rows: list[list[Fraction]] = []
    right: list[Fraction] = []
    for place, condition in enumerate(conditions):
        row = [-factor for factor in condition.factors] + [ZERO] * len(conditions)
        row[count + place] = Fraction(1)
        rows.append(row)
        right.append(-condition.bound)
    reduced = [*costs, *[ZERO] * len(conditions)]
    basis = list(range(count, width))
    value = ZERO
    while True:
        leaving = min((i for i in range(len(rows)) if right[i] < 0), key=lambda i: basis[i], default=None)
        if leaving is None:
            at = [ZERO] * width
            for place, variable in enumerate(basis):
                at[variable] = right[place]
            return Optimum(value, tuple(at[:count]))
        pivots = [j for j in range(width) if rows[leaving][j] < 0]
        if not pivots:
            return None
        entering = min(pivots, key=lambda j: (reduced[j] / -rows[leaving][j], j))
        value += _pivot(rows, right, reduced, leaving, entering)
        basis[leaving] = entering


def _pivot(
    rows: list[list[Fraction]], right: list[Fraction], reduced: list[Fraction], leaving: int, entering: int
) -> Fraction:
    """Bring a variable into the basis in place of another; give what that adds to the cost."""
    own = rows[leaving]
    factor = own[entering]
    own = rows[leaving] = [entry / factor if entry else entry for entry in own]
    right[leaving] /= factor
    for place, row in enumerate(rows):
        times = row[entering]
        if place != leaving and times:
            rows[place] = [a - times * b if b else a for a, b in zip(row, own, strict=True)]
            right[place] -= times * right[leaving]
    times = reduced[entering]
    if times:
        reduced[:] = [a - times * b if b else a for a, b in zip(reduced, own, strict=True)]
    return times * right[leaving]
