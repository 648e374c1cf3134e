"""A vacuum says from where it is counted."""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.toml.vacuum import read_vacuum
from formula_vcs.units.unit_reading import convert


@pytest.mark.parametrize(
    ("text", "shown", "low", "high"),
    [
        ("0.2 bar absolute", "0.2 bar absolute", 20_000, 20_000),
        ("200 mbar abs", "200 mbar absolute", 20_000, 20_000),
        ("200 mbar(a)", "200 mbar absolute", 20_000, 20_000),
        ("0.2 to 0.3 bar abs.", "0.2 to 0.3 bar absolute", 20_000, 30_000),
        ("-0.8 bar gauge", "-0.8 bar gauge", 21_325, 21_325),
        ("\u22120.8 bar", "-0.8 bar gauge", 21_325, 21_325),
        ("-0.4 to -0.6 bar", "-0.6 to -0.4 bar gauge", 41_325, 61_325),
        ("at most 0.3 bar absolute", "at most 0.3 bar absolute", None, 30_000),
        ("1.01325 bar absolute", "1.01325 bar absolute", 101_325, 101_325),
    ],
)
def test_it_is_read_as_an_absolute_pressure(text: str, shown: str, low: int | None, high: int) -> None:
    found = read_vacuum(text)

    assert isinstance(found, Range)
    assert shown == str(found)
    assert [low, high] == [None if end is None else end.base for end in (found.low, found.high)]
    assert read_vacuum(shown) == found


def test_two_ways_of_counting_can_mean_the_same() -> None:
    assert read_vacuum("-0.8 bar gauge") == read_vacuum("213.25 mbar absolute")
    found = read_vacuum("-0.8 bar gauge")
    assert isinstance(found, Range)
    assert isinstance(found.low, Quantity)
    assert (Fraction("0.21325"), Fraction(-800)) == (
        convert(found.low, "bar absolute"),
        convert(found.low, "mbar gauge"),
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0.6 bar", "does not say from where it is counted"),
        ("-0.4 bar absolute", "no absolute pressure is below nothing"),
        ("0.4 bar gauge", "lies over the pressure of the room"),
        ("-0.4 to 0.1 bar gauge", "has ends on both sides of the room's pressure"),
        ("-1.01325 bar gauge", "is more than the whole pressure of the air"),
        ("0 bar absolute", "leaves no pressure at all"),
        ("1.014 bar absolute", "is no vacuum: it lies over the pressure of the air"),
        ("0.3 to 0.2 bar absolute", 'is upside down; write "0.2 to 0.3 bar absolute"'),
        ("20 kg absolute", "is no pressure: "),
        ("deep", "is no pressure; write"),
        ("at most 0.2 to 0.3 bar absolute", "has two ends and a side"),
    ],
)
def test_what_is_no_vacuum(text: str, words: str) -> None:
    found = read_vacuum(text)

    assert isinstance(found, str)
    assert words in found
