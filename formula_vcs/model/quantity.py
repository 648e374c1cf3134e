"""A quantity with its unit, and a range of them.  Pure values: reading them from text is `files/units.py`."""

from __future__ import annotations

from decimal import Context, Decimal, Inexact
from fractions import Fraction

from formula_vcs.model.values import dataclass, field

# Wide enough for every quantity that can be read (40 digits) times every factor of a unit.
_EXACT = Context(prec=120, traps=[Inexact])


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number in one unit.

    ``value`` is the number in ``unit``, both as written.  ``base`` is the same exactly, in the base unit of
    ``dimension``: kg, s, K, 1/s, Pa*s, kg/m3, m3, m ...; the plain number for "share" and "number"; units of
    ``currency`` for 1 kg for "price".  Two quantities are equal where dimension, base and currency are, so
    "8 min" is "480 s" and "0.30 %" is "0.3 %".
    """

    text: str = field(compare=False)
    value: Decimal = field(compare=False)
    unit: str = field(compare=False)
    dimension: str
    base: Fraction
    currency: str = ""

    def __str__(self) -> str:
        """Write the quantity with its own digits and one space: ``0.250 kg``."""
        return f"{self.value:f} {self.unit}".rstrip()

    def comparable(self, other: Quantity) -> bool:
        """Say whether the two measure the same thing, in the same currency."""
        return self.dimension == other.dimension and self.currency == other.currency


@dataclass(frozen=True, slots=True)
class Range:
    """From ``low`` to ``high``, both included; an open end is None, and one value is both.

    The ends may stand the wrong way round: that is a rule's to report, see `ordered`.
    """

    text: str = field(compare=False)
    low: Quantity | None
    high: Quantity | None

    def __str__(self) -> str:
        """Write the range as a file does: ``4.8 to 5.4``, ``at most 45 degC``, ``8 min``."""
        if self.low is None:
            return f"at most {self.high}"
        if self.high is None:
            return f"at least {self.low}"
        if self.single:
            return str(self.low)
        return f"{self.low.value:f} to {self.high}"

    @property
    def single(self) -> bool:
        """Say whether the range is one value."""
        return self.low is not None and self.low == self.high

    @property
    def dimension(self) -> str:
        """Name what the range measures: mass, time, temperature ..."""
        end = self.high if self.low is None else self.low
        return "" if end is None else end.dimension

    def ordered(self) -> bool:
        """Say whether the low end is not above the high one."""
        return self.low is None or self.high is None or self.low.base <= self.high.base

    def contains(self, quantity: Quantity) -> bool:
        """Say whether a quantity of the same dimension and currency lies in the range, its ends included."""
        for end in (self.low, self.high):
            if end is not None and not end.comparable(quantity):
                return False
        above = self.low is None or self.low.base <= quantity.base
        return above and (self.high is None or quantity.base <= self.high.base)


def exact(value: Fraction) -> Decimal | Fraction:
    """Give a fraction as a decimal where it has a finite one, else as it is."""
    try:
        return _EXACT.divide(Decimal(value.numerator), Decimal(value.denominator))
    except Inexact:
        return value
