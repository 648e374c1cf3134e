"""Quantities and ranges as values."""

from __future__ import annotations

import dataclasses
from decimal import Decimal
from fractions import Fraction

import pytest

from formula_vcs.model.quantity import Quantity, Range, exact


def quantity(value: str, unit: str, dimension: str, base: str, currency: str = "") -> Quantity:
    return Quantity(f"{value} {unit}", Decimal(value), unit, dimension, Fraction(base), currency)


MINUTES = quantity("8", "min", "time", "480")
SECONDS = quantity("480", "s", "time", "480")
KILOGRAM = quantity("480", "kg", "mass", "480")
WARM = quantity("45", "degC", "temperature", "318.15")
HOT = quantity("72", "degC", "temperature", "345.15")


def test_equal_in_meaning() -> None:
    """Two spellings of one quantity are equal and hash alike."""
    assert MINUTES == SECONDS
    assert hash(MINUTES) == hash(SECONDS)


def test_unequal_in_dimension_or_currency() -> None:
    """The same number of another thing is not equal."""
    euro = quantity("1", "EUR/kg", "price", "1", "EUR")
    dollar = quantity("1", "USD/kg", "price", "1", "USD")

    assert MINUTES != KILOGRAM
    assert euro != dollar
    assert not euro.comparable(dollar)


def test_frozen() -> None:
    """A quantity cannot be changed."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        MINUTES.unit = "h"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("expected", "given"),
    [
        ("0.250 kg", quantity("0.250", "kg", "mass", "0.25")),
        ("4.8", quantity("4.8", "", "number", "4.8")),
        ("1000000000 CFU/g", quantity("1e9", "CFU/g", "count by mass", "1e12")),
    ],
)
def test_shown_with_its_digits(expected: str, given: Quantity) -> None:
    """A quantity is shown with the digits it was written with and without an exponent."""
    assert expected == str(given)


@pytest.mark.parametrize(
    ("expected", "given"),
    [
        ("45 to 72 degC", Range("", WARM, HOT)),
        ("at most 45 degC", Range("", None, WARM)),
        ("at least 45 degC", Range("", WARM, None)),
        ("8 min", Range("", MINUTES, MINUTES)),
    ],
)
def test_range_shown(expected: str, given: Range) -> None:
    """A range is shown as a file writes it."""
    assert expected == str(given)


def test_range_knows_its_order() -> None:
    """A range with its ends the wrong way round says so; one with an open end is ordered."""
    assert Range("", WARM, HOT).ordered()
    assert not Range("", HOT, WARM).ordered()
    assert Range("", None, WARM).ordered()
    assert Range("", WARM, None).ordered()


def test_range_contains_its_ends() -> None:
    """Both ends belong to a range; an open end holds everything on its side."""
    between = Range("", WARM, HOT)

    assert between.contains(WARM)
    assert between.contains(HOT)
    assert not Range("", HOT, None).contains(WARM)
    assert not Range("", None, WARM).contains(HOT)
    assert Range("", None, HOT).contains(WARM)


def test_range_contains_nothing_of_another_kind() -> None:
    """A mass is never inside a range of temperatures."""
    assert not Range("", WARM, HOT).contains(KILOGRAM)
    assert not Range("", None, HOT).contains(KILOGRAM)


def test_range_single_and_dimension() -> None:
    """One value is a range whose ends are equal; the dimension is that of whichever end is there."""
    assert Range("", MINUTES, SECONDS).single
    assert not Range("", None, MINUTES).single
    assert Range("", None, MINUTES).dimension == "time"
    assert Range("", MINUTES, None).dimension == "time"


@pytest.mark.parametrize(
    ("expected", "given"),
    [(Decimal("0.125"), Fraction(1, 8)), (Decimal(72), Fraction(72)), (Fraction(290, 3), Fraction(290, 3))],
)
def test_exact(expected: Decimal | Fraction, given: Fraction) -> None:
    """A fraction becomes a decimal where it has a finite one, and stays a fraction where not."""
    assert expected == exact(given)
    assert type(expected) is type(exact(given))
