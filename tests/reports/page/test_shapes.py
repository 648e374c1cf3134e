from __future__ import annotations

import pytest

from formula_vcs.reports.page import shapes
from tests.helpers_html import parsed


def test_a_picture_has_a_name_and_says_what_it_shows() -> None:
    svg = parsed(shapes.picture("<Bars>", "one & two", 20, [shapes.line(0, 1, 100, 1, "axis")])).one("svg")

    assert ("img", "100%", "20") == tuple(svg.attributes[name] for name in ("role", "width", "height"))
    assert ("<Bars>", "one & two") == (svg.one("title").text, svg.one("desc").text)


@pytest.mark.parametrize(("left", "right"), [(10, 30), (30, 10)])
def test_a_bar_has_no_way_round(left: float, right: float) -> None:
    rect = parsed(shapes.bar(left, right, 2, 8, "s1")).one("rect")

    assert ("10%", "20%") == (rect.attributes["x"], rect.attributes["width"])


@pytest.mark.parametrize(("value", "words"), [(-5, "0%"), (250, "100%"), (12.346, "12.35%"), (float("inf"), "100%")])
def test_a_place_stays_on_the_picture(value: float, words: str) -> None:
    assert words == shapes.percent(value)


def test_a_bar_that_leaves_the_picture_ends_at_its_edge() -> None:
    rect = parsed(shapes.bar(-50, 1e9, 0, 1, "s1")).one("rect")

    assert ("0%", "100%") == (rect.attributes["x"], rect.attributes["width"])
