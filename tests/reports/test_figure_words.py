"""Rounded for people: parts add up to the printed whole, nothing reads as reaching what it misses."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.reports import figure_words
from formula_vcs.words.numbers import rounded


def test_every_figure_has_words_of_its_own() -> None:
    words = [figure_words.called(name) for name in FIGURES]

    assert len(words) == len(set(words))
    assert "natural origin, without water" in words
    assert not [word for word in words if "_" in word]


_SHARES = st.lists(st.fractions(min_value=-1000, max_value=1000, max_denominator=10**6), min_size=1, max_size=12)


@given(_SHARES, st.fractions(min_value=0, max_value=1000, max_denominator=10**6), st.integers(0, 4))
def test_printed_parts_add_up_to_the_printed_difference(
    shares: list[Fraction], before: Fraction, decimals: int
) -> None:
    """After less before, both as printed, is what the parts add up to, each within a last digit or two of its own."""
    whole = rounded(before + sum(shares), decimals) - rounded(before, decimals)

    parts = figure_words.parts(shares, decimals, whole)

    assert whole == sum(parts)
    unit = Decimal(1).scaleb(-decimals)
    assert all(abs(Fraction(part) - share) < 2 * Fraction(unit) for part, share in zip(parts, shares, strict=True))


@pytest.mark.parametrize(
    ("value", "shown"),
    [("4", "4.00"), ("0.125", "0.125"), ("100", "100.00"), ("99.999999999", "99.999999999"), ("1/3", "0.33")],
)
def test_a_percentage_below_100_never_reads_as_100(value: str, shown: str) -> None:
    assert shown == figure_words.below_all(Fraction(value), 2, 6)


@pytest.mark.parametrize(
    ("name", "value", "shown"),
    [
        ("total", "100.0005", "100.0005"),
        ("cost_per_kg", "1.6", "1.6000"),
        ("water", "71.2649", "71.26"),
        ("natural", "99.9999", "99.9999"),
    ],
)
def test_a_figure_by_itself(name: str, value: str, shown: str) -> None:
    assert shown == figure_words.alone(name, Fraction(value))
