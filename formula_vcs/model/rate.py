"""Rates of exchange as a house states them: what one unit of a currency is worth in another, on a day."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from fractions import Fraction

from formula_vcs.model.facts import Facts, below
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass


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
        """Give what one unit of a currency is in another; None where the rate is about two others.

        A rate serves both ways, as banks print it either way round.
        """
        if (self.of, self.worth.currency) == (of, into):
            return self.worth.base
        return 1 / self.worth.base if (self.worth.currency, self.of) == (of, into) else None


def rates(facts: Facts) -> Iterator[Rate]:
    """Give the readable rates among the facts of a workspace, in the order of the file."""
    for number in dict.fromkeys(path[1] for path in facts if path[0] == "rate" and len(path) > 1):
        row = below(facts, "rate", number)
        of, worth, day = row.get("of"), row.get("is"), row.get("day")
        if isinstance(of, str) and isinstance(worth, Quantity) and isinstance(day, datetime.date) and worth.base:
            yield Rate(of, worth, day)


def exchange(known: tuple[Rate, ...], of: str, into: str, day: datetime.date) -> tuple[Fraction, Rate] | str:
    """Give the factor and the rate for a day: the latest that is not after it.

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
