"""Share a difference among the changes that made it, free of any order: Shapley's value.

The share of a change is what it adds, averaged over all orders in which the changes could have been made (Shapley, in
Contributions to the Theory of Games II, 1953, 307).  The shares add up to the difference exactly, whatever happens
between: only both ends count for the sum.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import combinations
from math import factorial, lcm
from typing import Final

from formula_vcs.model.values import dataclass

MOST_EXACT: Final = 10
MOST_SHARED: Final = 500  # two formulas a change are worked out: of thousands nobody waits for the shares
# why shares are not the mean over all orders of all changes
MANY: Final = "many"  # small ones were taken as one, as there are too many to try every order
TOGETHER: Final = "together"  # some count only with each other, as a currency does with its prices
UNTRIED: Final = "untried"  # nothing was shared: nobody would wait for it
# Denominators of all that is tried: beyond, what lies between the ends is rounded, or a share has thousands of digits.
_MOST_BITS: Final = 6000
_FINE: Final = 10**40
Worth = Callable[[frozenset[int]], Fraction | None]


@dataclass(frozen=True, slots=True)
class Shared:
    """The shares, or None where they are not known; ``evened`` says why some are not exact means over all orders."""

    values: list[Fraction] | None
    evened: str = ""


def attribute(count: int, worth: Worth, *, bilinear: bool = False, most: int = MOST_EXACT) -> Shared:
    """Share worth(all) - worth(none) among ``count`` changes.

    ``bilinear`` says that no three changes act on each other: then the mean of "made first" and "made last" is exact
    already.  Else all orders of up to ``most`` changes count; of more, the smaller ones are taken as one, and share in
    proportion to that mean.  Of more than that, too, a change that does nothing when made first or last has no part.
    Changes without which another gives the figure no worth are taken as one, and share evenly.
    """
    everything = frozenset(range(count))
    start, end = worth(frozenset()), worth(everything)
    if start is None or end is None:
        return Shared(None)
    ends = [_two_ends(i, everything, worth) for i in range(count)]
    known = [mean if mean is not None else Fraction(0) for mean, _ in ends]
    tied = [i for i, (mean, _) in enumerate(ends) if mean is None]
    if not tied and sum(known, Fraction(0)) == end - start and (bilinear or count <= 2):
        return Shared(known)
    free = [i for i in everything if i not in tied]
    if count > most:
        moving = [i for i in free if ends[i][1]]
        # some may count only together: then none may be left out
        free = moving if worth(frozenset((*moving, *tied))) == end else free
    room = most - bool(tied)
    alone = free
    if len(free) > room:
        alone = sorted(sorted(free, key=lambda i: -abs(known[i]))[: max(room - 1, 0)])
    small = [i for i in free if i not in alone]
    groups = [group for group in (tied, small, *([i] for i in alone)) if group]
    values = _shapley(groups, worth)
    evened = TOGETHER if len(tied) > 1 else MANY if len(small) > 1 else ""
    if values is None:
        groups, values, evened = [sorted(everything)], [end - start], TOGETHER
    shares = [Fraction(0)] * count
    for group, value in zip(groups, values, strict=True):
        for i, share in zip(group, _inside([known[i] for i in group], value), strict=True):
            shares[i] = share
    return Shared(shares, evened)


def _two_ends(i: int, everything: frozenset[int], worth: Worth) -> tuple[Fraction | None, bool]:
    """Give the mean of what a change does when made first and when made last, and whether it does anything."""
    first, start = worth(frozenset({i})), worth(frozenset())
    end, last = worth(everything), worth(everything - {i})
    if first is None or start is None or end is None or last is None:
        return None, True
    return (first - start + end - last) / 2, first != start or end != last


def _shapley(groups: Sequence[Sequence[int]], worth: Worth) -> list[Fraction] | None:
    """Give the mean over all orders of the groups; None where some of them together give no worth."""
    count = len(groups)
    sets = [chosen for size in range(count + 1) for chosen in combinations(range(count), size)]
    worths: list[Fraction] = []
    for chosen in sets:
        value = worth(frozenset(i for group in chosen for i in groups[group]))
        if value is None:
            return None
        worths.append(value)
    worths = _bounded(worths)
    under = lcm(*(value.denominator for value in worths))
    whole = [0] * (count + 1)  # the sums of the worths by the size of the set, and of those sets with each group
    with_it = [[0] * (count + 1) for _ in range(count)]
    for chosen, value in zip(sets, worths, strict=True):
        number = value.numerator * (under // value.denominator)
        whole[len(chosen)] += number
        for group in chosen:
            with_it[group][len(chosen)] += number
    orders = [factorial(size) * factorial(count - size - 1) for size in range(count)]
    return [
        Fraction(
            sum(weight * (own[size + 1] - whole[size] + own[size]) for size, weight in enumerate(orders)),
            factorial(count) * under,
        )
        for own in with_it
    ]


def _bounded(worths: list[Fraction]) -> list[Fraction]:
    """Round what lies between both ends to 40 decimals where exact shares would have thousands of digits."""
    if sum(value.denominator.bit_length() for value in worths) <= _MOST_BITS:
        return worths
    between = [Fraction(round(value * _FINE), _FINE) for value in worths[1:-1]]
    return [worths[0], *between, worths[-1]]


def _inside(known: Sequence[Fraction], value: Fraction) -> list[Fraction]:
    """Share a group's value among its members: what each does by itself, and of the rest in proportion to that."""
    rest = value - sum(known, Fraction(0))
    size = sum(map(abs, known), Fraction(0))
    if not rest or len(known) == 1:
        return list(known) if not rest else [value]
    if not size:
        return [value / len(known)] * len(known)
    return [share + rest * abs(share) / size for share in known]
