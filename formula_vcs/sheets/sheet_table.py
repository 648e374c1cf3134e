"""A table on its way out: heads with their units, and rows of texts, numbers and days."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from decimal import Context, Decimal
from fractions import Fraction

from formula_vcs.model.values import dataclass

Value = str | Decimal | datetime.date | None


@dataclass(frozen=True)
class SheetTable:
    """One sheet: its name, what stands above its heads, the heads, the rows."""

    name: str
    heads: Sequence[str]
    rows: Sequence[Sequence[Value]]
    above: Sequence[tuple[str, str]] = ()


def plain(number: Decimal) -> str:
    """Write a number: no zeros behind it that say nothing, but never three decimals, which may be read as thousands.

    >>> plain(Decimal("5.00")), plain(Decimal("1.250")), plain(Decimal("1.255"))
    ('5', '1.25', '1.2550')
    """
    text = f"{number:f}"
    if "." not in text:
        return text
    text = text.rstrip("0").rstrip(".")
    _, point, places = text.partition(".")
    return f"{text}0" if point and len(places) == 3 else text


def as_decimal(value: Fraction) -> Decimal:
    """Give a fraction as a decimal: exact where it has at most 15 digits, as a sheet shows at most, else rounded."""
    digits = Context(prec=15)
    return digits.divide(Decimal(value.numerator), Decimal(value.denominator))
