"""Columns: folding, aligning, cutting, by what a terminal shows and not by characters."""

from __future__ import annotations

import io

import pytest

from formula_vcs.reports.terminal import WIDTH, Ink, at_point, columns, cut, folded, left, right


@pytest.mark.parametrize(
    ("text", "width"),
    [
        ("abc", 3),
        ("", 0),
        ("\u6d77\u85fb", 4),
        ("e\u0301", 1),
        ("\u00e9", 1),
        ("\033[31;1mred\033[0m", 3),
        ("\u2192", 1),
    ],
)
def test_columns(text: str, width: int) -> None:
    assert width == columns(text)


def test_numbers_stand_at_their_points() -> None:
    assert ["14.00", " 0.3 ", " 5   ", " x   "] == at_point(["14.00", "0.3", "5", "x"])
    assert [] == at_point([])


def test_filling_and_cutting() -> None:
    assert ("ab  ", "  ab") == (left("ab", 4), right("ab", 4))
    assert ("\u6d77  ", "  \u6d77") == (left("\u6d77", 4), right("\u6d77", 4))
    assert ("abc", "ab\u2026", "\u6d77\u2026") == (cut("abc", 3), cut("abcd", 3), cut("\u6d77\u85fb\u6d77", 4))


def test_folding() -> None:
    assert ["aa bb", "cc dd ee"] == folded("aa bb cc dd ee", 5, 8)
    assert ["a", "longerword", "b"] == folded("a longerword b", 4, 4)
    assert [] == folded("  ", 10, 10)


def test_a_number_keeps_its_percent_sign() -> None:
    assert ["aa bb", "50.00 %", "cc"] == folded("aa bb 50.00 % cc", 8, 8)


def test_wrapped_lines_fit_whatever_leads_them() -> None:
    out = io.StringIO()

    Ink(out).wrapped("\u6d77\u85fb " * 60, "  \u2192 ", "        ")

    lines = out.getvalue().splitlines()
    assert WIDTH >= max(columns(line) for line in lines)
    assert 60 == sum(line.count("\u85fb") for line in lines)
