"""Median, median absolute deviation, and whether one value is unusual among few others.

A mean and a standard deviation of eight batches are moved by the one batch that went wrong; a median and the median
absolute deviation (MAD) are not (Hampel, J. Am. Stat. Assoc. 69 (1974) 383-393).  With few values the MAD is uncertain,
so the limit is wider for fewer: a sound batch passes it in 1 % of all cases, whatever their number.
Constants and limits with their sources: `data/robust.toml`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from math import sqrt
from typing import Final, NamedTuple

from formula_vcs.toml.package_data import load

# 1 / (upper quartile of the standard normal distribution): Hampel 1974.
CONSISTENT: Final = 1.482602218505602
# A value rounded to a division d has lost at most d/2; evenly spread, that is a standard deviation of d / sqrt(12):
# JCGM 100:2008 (GUM), F.2.2.1.
_ROUNDING: Final = 1 / sqrt(12)


class Unusual(NamedTuple):
    """One value among so many ``others``.

    ``spread`` is an estimate of their standard deviation, ``score`` how many of it the value lies off the median
    (signed), ``limit`` what that may be.  ``score`` and ``limit`` are None where there are too few others to say.
    ``hidden`` says that it is no more than one last digit off: two values that are rounded can be one.
    """

    others: int
    median: Fraction
    spread: float
    score: float | None
    limit: float | None
    lowest: Fraction
    highest: Fraction
    hidden: bool = False

    @property
    def stands_out(self) -> bool:
        """Say whether the value lies beyond the limit, and by more than its last digit can hide."""
        return self.score is not None and self.limit is not None and abs(self.score) > self.limit and not self.hidden


def median(values: Sequence[Fraction]) -> Fraction:
    """Give the middle value, or the mean of the middle two.

    :raises ValueError: there are no values.

    >>> median([Fraction(3), Fraction(1), Fraction(2), Fraction(10)])
    Fraction(5, 2)
    """
    if not values:
        msg = "no values"
        raise ValueError(msg)
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2


def mad(values: Sequence[Fraction]) -> Fraction:
    """Give the median of the distances from the median, not scaled."""
    middle = median(values)
    return median([abs(value - middle) for value in values])


def factor(count: int) -> float:
    """Give what makes 1.4826 MAD of so many normal values their standard deviation on average; 1 for a single one."""
    return _factors().get(count, count / (count - 0.8)) if count > 1 else 1.0


def limit(count: int) -> float | None:
    """Give how many spreads a new value may lie off the median of so many others; None where they are too few."""
    known = _limits()
    fitting = [number for number in known if number <= count]
    return known[max(fitting)] if fitting else None


def least() -> int:
    """Give how many other values there must be."""
    return int(load("robust")["least"])


def chance() -> float:
    """Give how often a value that is not unusual passes the limit all the same."""
    return float(load("robust")["chance"])


def spread(values: Sequence[Fraction], division: Fraction = Fraction(0)) -> float:
    """Estimate the standard deviation of values, robustly; never less than what rounding to a ``division`` leaves."""
    return max(float(mad(values)) * CONSISTENT * factor(len(values)), float(division) * _ROUNDING)


def judge(value: Fraction, others: Sequence[Fraction], division: Fraction = Fraction(0)) -> Unusual:
    """Compare one value with others of its kind, in one unit; ``division`` is the last digit that is recorded.

    Where all others are alike and nothing is known of their rounding there is no spread to count in: any other value
    is then infinitely far off, and the same one not at all.

    :raises ValueError: there are no others.
    """
    middle, width = median(others), spread(others, division)
    away = float(value - middle)
    allowed = limit(len(others))
    score = None if allowed is None else away / width if width else _endless(away)
    hidden = abs(value - middle) <= division
    return Unusual(len(others), middle, width, score, allowed, min(others), max(others), hidden)


def _endless(away: float) -> float:
    return 0.0 if not away else float("inf") if away > 0 else float("-inf")


@lru_cache(maxsize=1)
def _factors() -> dict[int, float]:
    return {row["n"]: row["factor"] for row in load("robust")["row"] if "factor" in row}


@lru_cache(maxsize=1)
def _limits() -> dict[int, float]:
    return {row["n"]: row["limit"] for row in load("robust")["row"] if "limit" in row}
