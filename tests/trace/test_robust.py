"""Median, MAD, and what is unusual among few."""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.trace import robust

SOUND = [Fraction(value) for value in ("22.4", "23.1", "22.8", "23.6", "22.9", "23.3", "23.0", "22.6")]


def test_a_thin_batch_stands_out_among_eight() -> None:
    found = robust.judge(Fraction("15.8"), SOUND, Fraction("0.1"))

    assert Fraction("22.95") == found.median
    assert found.stands_out
    assert (8, Fraction("22.4"), Fraction("23.6")) == (found.others, found.lowest, found.highest)


def test_a_sound_one_does_not() -> None:
    assert not robust.judge(Fraction("23.8"), SOUND, Fraction("0.1")).stands_out


@pytest.mark.parametrize("count", range(1, 6))
def test_too_few_say_nothing(count: int) -> None:
    """With fewer than six others nothing is called unusual, however far off."""
    found = robust.judge(Fraction(1000), SOUND[:count])

    assert found.limit is None
    assert found.score is None
    assert not found.stands_out


def test_the_limit_is_wider_for_fewer() -> None:
    """Among even and among odd numbers: the median of an even number is a mean of two, and a little steadier."""
    limits = [robust.limit(count) or 0.0 for count in range(6, 200)]

    assert [] == [(more, fewer) for fewer, more in zip(limits, limits[2:], strict=False) if more > fewer]
    assert limits[-1] > 2.576


def test_the_limit_between_two_rows_is_that_of_fewer() -> None:
    assert robust.limit(30) == robust.limit(34)
    assert robust.limit(100) == robust.limit(5000)


def test_values_that_are_all_alike_have_the_spread_of_their_rounding() -> None:
    """Eight times 8 min, to the minute: 8.5 is nothing, 4 is."""
    alike = [Fraction(8)] * 8

    assert 1 / 12**0.5 == pytest.approx(robust.spread(alike, Fraction(1)))
    assert not robust.judge(Fraction("8.5"), alike, Fraction(1)).stands_out
    assert robust.judge(Fraction(4), alike, Fraction(1)).stands_out


def test_without_a_known_rounding_any_other_value_is_endlessly_far() -> None:
    alike = [Fraction(8)] * 8

    assert float("-inf") == robust.judge(Fraction(4), alike).score
    assert 0.0 == robust.judge(Fraction(8), alike).score


def test_no_values_are_refused() -> None:
    with pytest.raises(ValueError, match="no values"):
        robust.median([])


@pytest.mark.parametrize("count", [8, 20, 40, 200])
def test_one_last_digit_does_not_stand_out_however_many_are_alike(count: int) -> None:
    """The spread of rounding alone, d / sqrt(12), would call d itself unusual among more than some twenty."""
    alike = [Fraction(5)] * count

    assert not robust.judge(Fraction("5.1"), alike, Fraction("0.1")).stands_out
    assert robust.judge(Fraction("5.2"), alike, Fraction("0.1")).stands_out
