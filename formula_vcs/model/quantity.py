"""Quantities with their units, ranges of them, rates of exchange. Pure values: `toml/` and `units/` read them."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from decimal import Context, Decimal, Inexact
from fractions import Fraction

from formula_vcs.model.facts import Facts, below
from formula_vcs.model.values import dataclass, field

# --- A quantity with its unit, and a range of them.  Pure values: reading them from text is `files/units.py`


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
    """A fraction as a decimal where it has a finite one, else as it is."""
    try:
        return _EXACT.divide(Decimal(value.numerator), Decimal(value.denominator))
    except Inexact:
        return value


# --- Rates of exchange as a house states them: what one unit of a currency is worth in another, on a day


@dataclass(frozen=True, slots=True)
class Rate:
    """What 1 ``of`` a currency was worth on a day: "0.862 EUR" for 1 USD."""

    of: str
    worth: Quantity
    day: datetime.date

    def __str__(self) -> str:
        """Write the rate with its day."""
        return f"1 {self.of} = {self.worth}, rate of {self.day}"

    def factor(self, of: str, into: str) -> Fraction | None:
        """What one unit of a currency is in another; None where the rate is about two others.

        A rate serves both ways, as banks print it either way round.
        """
        if (self.of, self.worth.currency) == (of, into):
            return self.worth.base
        return 1 / self.worth.base if (self.worth.currency, self.of) == (of, into) else None


def rates(facts: Facts) -> Iterator[Rate]:
    """The readable rates among the facts of a workspace, in the order of the file."""
    for number in dict.fromkeys(path[1] for path in facts if path[0] == "rate" and len(path) > 1):
        row = below(facts, "rate", number)
        of, worth, day = row.get("of"), row.get("is"), row.get("day")
        if isinstance(of, str) and isinstance(worth, Quantity) and isinstance(day, datetime.date) and worth.base:
            yield Rate(of, worth, day)


def exchange(known: tuple[Rate, ...], of: str, into: str, day: datetime.date) -> tuple[Fraction, Rate] | str:
    """The factor and the rate for a day: the latest that is not after it.

    Of two of one day the direct one counts.  A str says why there is none.  Rates are not chained over a third
    currency.
    """
    fit = [rate for rate in known if rate.factor(of, into)]
    if not fit:
        return f"priced in {of}, and workspace.toml has no [[rate]] of {of} in {into}"
    past = [rate for rate in fit if rate.day <= day]
    if not past:
        first = min(rate.day for rate in fit)
        return f"priced in {of}, and the first [[rate]] of {of} in {into} is of {first}, after {day}"
    rate = max(past, key=lambda one: (one.day, one.of == of))
    return rate.factor(of, into) or Fraction(0), rate
