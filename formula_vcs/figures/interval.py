"""A number known only to lie somewhere: what missing data leave open, so that they decide nothing they cannot."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from formula_vcs.model.values import dataclass
from formula_vcs.words.numbers import dot


@dataclass(frozen=True, slots=True)
class Interval:
    """A number from ``low`` to ``high``; both the same where it is known.  ``missing`` says what leaves it open."""

    low: Fraction = Fraction(0)
    high: Fraction = Fraction(0)
    missing: tuple[str, ...] = ()

    @property
    def value(self) -> Fraction | None:
        """Give the number where it is known."""
        return self.low if not self.missing else None

    def __add__(self, other: Interval) -> Interval:
        """Add two numbers."""
        return Interval(self.low + other.low, self.high + other.high, (*self.missing, *other.missing))

    def times(self, factor: Fraction) -> Interval:
        """Take a number some times (not negative)."""
        return Interval(self.low * factor, self.high * factor, self.missing)


def total(parts: Iterable[tuple[Interval, Fraction]]) -> Interval:
    """Add up numbers, each taken some times (not negative)."""
    found = list(parts)
    low = dot([(part.low, factor) for part, factor in found if part.low])
    open_ones = [(part.high, part.low, factor) for part, factor in found if part.missing]
    high = low + dot([(upper - lower, factor) for upper, lower, factor in open_ones])
    return Interval(low, high, tuple(word for part, _ in found for word in part.missing))


def known(value: Fraction) -> Interval:
    """Give a number that is known."""
    return Interval(value, value)


def between(low: Fraction, high: Fraction, missing: str) -> Interval:
    """Give a number that a missing fact leaves open."""
    return Interval(low, high, (missing,))


def ratio(part: Interval, whole: Interval) -> Interval:
    """Give part / whole x 100 where the part is part of the whole; an empty whole gives 0."""
    missing = tuple(dict.fromkeys((*part.missing, *whole.missing)))
    low = part.low / whole.high * 100 if whole.high else Fraction(0)
    high = min(part.high / whole.low * 100, Fraction(100)) if whole.low else Fraction(100 if missing else 0)
    return Interval(low, high, missing)
