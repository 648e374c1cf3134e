"""Numbers over time in one line of characters."""

from __future__ import annotations

import io
from fractions import Fraction

import pytest

from formula_vcs.reports.log.sparkline import BLOCKS, PLAIN, levels_for, sparkline

RISING = [Fraction(number) for number in range(8)]


def test_from_the_lowest_to_the_highest() -> None:
    assert BLOCKS == sparkline(RISING, 40)
    assert BLOCKS[::-1] == sparkline(RISING[::-1], 40)
    assert PLAIN == sparkline(RISING, 40, PLAIN)


def test_what_is_not_known_and_what_is_equal() -> None:
    assert "_??#" == sparkline([Fraction(1), None, None, Fraction(2)], 40, PLAIN)
    assert "??" == sparkline([None, None], 40, PLAIN)
    assert "===" == sparkline([Fraction(5)] * 3, 40, "-=#")
    assert "" == sparkline([], 40)


def test_of_many_the_first_and_the_last_are_drawn() -> None:
    values = [Fraction(0), *[Fraction(5)] * 998, Fraction(10)]

    line = sparkline(values, 20, PLAIN)

    assert 20 == len(line)
    assert ("_", "#") == (line[0], line[-1])


@pytest.mark.parametrize(
    ("encoding", "levels"), [("utf-8", BLOCKS), ("ascii", PLAIN), ("iso8859-1", PLAIN), ("cp437", PLAIN)]
)
def test_only_characters_that_can_be_written(encoding: str, levels: str) -> None:
    """Code page 437 has a few of the blocks, and that is not enough."""
    assert levels == levels_for(io.TextIOWrapper(io.BytesIO(), encoding=encoding))
