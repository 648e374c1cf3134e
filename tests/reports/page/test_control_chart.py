"""The control chart: what it says in words, where it puts things, and how it looks in a browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.page.control_chart import control_chart, said
from formula_vcs.reports.page.shell import document
from formula_vcs.trace.series import Point, Series
from tests.helpers_browser import Browser, session

VALUES = ("22.4", "23.1", "22.8", "23.6", "22.9", "23.3", "23.0", "15.8")


def series(values: tuple[str, ...] = VALUES, name: str = "viscosity") -> Series:
    """Give a series whose last batch is marked, with a new version from the fifth on."""
    points = tuple(
        Point(
            f"hc-{number:03d}", f"2026-01-{number + 1:02d}", Fraction(value), Fraction(18), Fraction(28),
            1 if number < 4 else 2, "abc1234", number == len(values) - 1,
        )
        for number, value in enumerate(values)
    )  # fmt: skip
    return Series(name, "Pa*s", points, Fraction("23.0"), 21.5, 24.5)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start the browser once."""
    with session() as found:
        yield found


def test_it_says_in_words_what_it_shows() -> None:
    words = said(series())

    assert "viscosity of 8 batches, hc-000 of 2026-01-01 to hc-007 of 2026-01-08." in words
    assert "Median of the others 23 Pa*s." in words
    assert "Outside its spec: hc-007." in words
    assert "Marked: hc-007 15.8." in words


def test_every_batch_has_a_mark_and_a_row() -> None:
    chart = control_chart(series())

    assert 8 == len(re.findall(r'<svg x="[\d.]+%"', chart))
    assert 8 == chart.count('<th scope="row">')
    assert 1 == chart.count("outside its spec</td>")
    assert ">v1<" in chart
    assert ">v2<" in chart


def test_higher_values_stand_higher() -> None:
    places = [float(y) for y in re.findall(r'<svg x="[\d.]+%" y="([\d.]+)"', control_chart(series()))]

    assert sorted(range(8), key=lambda i: -Fraction(VALUES[i])) == sorted(range(8), key=lambda i: places[i])


def test_values_that_are_all_alike_can_be_drawn() -> None:
    flat = replace(series(("5", "5")), low=None, high=None)

    assert "too few for limits" in control_chart(flat)


def test_names_are_escaped() -> None:
    chart = control_chart(series(name='<b onclick="x">\x1b'))

    assert "<b" not in chart
    assert "\x1b" not in chart


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_and_sends_nothing(browser: Browser, tmp_path: Path, width: int, scheme: str) -> None:
    path = tmp_path / "chart.html"
    path.write_text(document("Chart", Markup(f"<main>{control_chart(series())}</main>")), encoding="utf-8")
    with browser.page(path, width=width, scheme="dark" if scheme == "dark" else "light") as page:
        assert [] == page.overflowing()
        assert [] == page.sent
        assert [] == page.ran
        assert min(page.text_sizes()) >= 12
        outside = page.run(
            "() => [...document.querySelectorAll('svg[role=img] text')].filter(t => "
            "t.getBoundingClientRect().left < 0 || "
            "t.getBoundingClientRect().right > document.documentElement.clientWidth).map(t => t.textContent)"
        )
        assert [] == outside


def test_the_names_of_two_batches_in_a_row_stand_apart() -> None:
    """On a telephone the names of neighbours at one height would be written over each other."""
    both = series(("5.0", "5.0", "5.0", "5.0", "5.0", "5.0"))
    points = tuple(replace(point, marked=number > 3) for number, point in enumerate(both.points))
    chart = control_chart(replace(both, points=points))
    heights = [float(y) for y in re.findall(r'y="([\d.]+)"[^>]*>hc-00[45]<', chart)]

    assert 2 == len(heights)
    assert abs(heights[0] - heights[1]) >= 12


def test_the_key_says_each_thing_once() -> None:
    assert 1 == control_chart(series()).count("Dashed: the spec of each version.")
