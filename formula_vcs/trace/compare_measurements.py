"""Two measurements of the same thing, compared: in one unit, against a range, and against the digits that they have."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from formula_vcs.figures.tolerance import mistaken_unit
from formula_vcs.model.quantity import Quantity, Range, exact
from formula_vcs.model.values import dataclass
from formula_vcs.units.unit_reading import convert


@dataclass(frozen=True, slots=True)
class MeasuredPair:
    """Two values of one quantity, ``old`` and ``new``, either of which may not be recorded.

    ``unit`` is that of the new value, or of the old one where there is no new; ``before``, ``after``, ``difference``
    and ``division`` are numbers in it, None where they cannot be.  ``division`` is half of the last digits of both:
    a smaller difference is nothing that the record can show.
    """

    old: Quantity | None
    new: Quantity | None
    unit: str
    before: Fraction | None
    after: Fraction | None
    division: Fraction | None

    @property
    def difference(self) -> Fraction | None:
        """Give new minus old."""
        return None if self.before is None or self.after is None else self.after - self.before

    @property
    def ratio(self) -> Fraction | None:
        """Give new by old."""
        return None if not self.before or self.after is None else self.after / self.before

    @property
    def way(self) -> int:
        """Give 1 where the new value is higher by more than the digits can hide, -1 where it is lower, else 0."""
        gap = self.difference
        if gap is None or abs(gap) <= (self.division or 0):
            return 0
        return 1 if gap > 0 else -1

    @property
    def state(self) -> str:
        """Say how the two compare: same, digit (within the last digit), differs, old only, new only, units, none."""
        if self.old is None or self.new is None:
            return "none" if self.old is self.new else "new only" if self.old is None else "old only"
        if self.difference is None:
            return "units"
        if not self.difference:
            return "same"
        return "differs" if self.way else "digit"

    @property
    def slip(self) -> bool:
        """Say whether one value is about a thousand times the other; of temperatures it would say nothing."""
        one = self.new or self.old
        return one is not None and one.dimension != "temperature" and mistaken_unit(self.before, self.after)


def pair(old: Quantity | None, new: Quantity | None) -> MeasuredPair:
    """Compare two quantities; of different dimensions, they have no numbers in common."""
    lead = new or old
    unit = "" if lead is None else lead.unit
    if old is None or new is None:
        alone = None if lead is None else Fraction(lead.value)
        return MeasuredPair(old, new, unit, alone if new is None else None, alone if old is None else None, None)
    if not old.comparable(new):
        return MeasuredPair(old, new, unit, None, None, None)
    before, after = convert(old, unit), Fraction(new.value)
    division = (_digit(old) * _scale(old, before) + _digit(new)) / 2
    return MeasuredPair(old, new, unit, before, after, division)


def digit(quantity: Quantity, unit: str) -> Fraction:
    """Give one unit of the last digit that is written, in another unit: 10 mPa*s of "0.45 Pa*s"."""
    return _digit(quantity) * _scale(quantity, convert(quantity, unit))


def _digit(quantity: Quantity) -> Fraction:
    """Give one unit of the last digit that is written: 0.1 of "17.8 Pa*s", 1 of "25 kg"."""
    exponent = quantity.value.as_tuple().exponent
    return Fraction(10) ** exponent if isinstance(exponent, int) else Fraction(0)


def _scale(quantity: Quantity, converted: Fraction) -> Fraction:
    """Give how many of the other unit one unit is; temperatures written in two ways keep their digits."""
    if not quantity.value or quantity.dimension == "temperature":
        return Fraction(1)
    return abs(converted / Fraction(quantity.value))


def middle(value: Range | None) -> Quantity | None:
    """Give one quantity for a range: itself where it is single, else what lies between; None where an end is open."""
    if value is None or value.low is None or value.high is None:
        return None
    if value.single:
        return value.low
    low, high = convert(value.low, value.high.unit), Fraction(value.high.value)
    half = exact((low + high) / 2)
    number = half if isinstance(half, Decimal) else Decimal(half.numerator) / Decimal(half.denominator)
    base = (value.low.base + value.high.base) / 2
    return Quantity(str(value), number, value.high.unit, value.high.dimension, base, value.high.currency)


@dataclass(frozen=True, slots=True)
class RangePlace:
    """Where a value lies in a range: ``verdict`` in, below or above, "" where the range is of something else.

    ``from_low`` is how far it is above the low end in widths of the range, None where the range has one end only.
    """

    verdict: str
    from_low: Fraction | None


def place(value: Quantity | None, span: Range | None) -> RangePlace:
    """Say where a value lies in a range."""
    ends = [] if span is None else [end for end in (span.low, span.high) if end is not None]
    if value is None or span is None or not ends or not all(end.comparable(value) for end in ends):
        return RangePlace("", None)
    verdict = "in"
    if span.low is not None and value.base < span.low.base:
        verdict = "below"
    elif span.high is not None and value.base > span.high.base:
        verdict = "above"
    width = width_of(span)
    low = span.low
    return RangePlace(verdict, None if not width or low is None else (value.base - low.base) / width)


def width_of(span: Range | None) -> Fraction | None:
    """Give the width of a range in base units; None where it has no two ends that differ."""
    if span is None or span.low is None or span.high is None or not span.low.comparable(span.high):
        return None
    width = abs(span.high.base - span.low.base)
    return width or None


def in_widths(found: MeasuredPair, span: Range | None) -> Fraction | None:
    """Give a difference in widths of a range."""
    width = width_of(span)
    if width is None or found.difference is None or found.old is None or found.new is None:
        return None
    assert span is not None  # noqa: S101 - it has a width
    assert span.low is not None  # noqa: S101 - as above
    if not span.low.comparable(found.new):
        return None
    return (found.new.base - found.old.base) / width
