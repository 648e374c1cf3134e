"""Bars against limits: what is drawn, where the limit stands, and what is only listed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from formula_vcs.reports.page.gauges import Gauge
from formula_vcs.reports.page.limits import MOST_DRAWN, limits
from tests.helpers_html import Element, parsed


def gauge(before: str | None, after: str | None, low: str | None, high: str | None, css: str = "good") -> Gauge:
    was, now, least, most = (None if value is None else Fraction(value) for value in (before, after, low, high))
    return Gauge("Thing", was, now, least, most, ("b", "n", "the limit"), "as it is", css, "somebody")


def place(element: Element, name: str) -> float:
    return float(element.attributes[name].rstrip("%"))


def test_a_bar_above_its_limit_ends_behind_the_line() -> None:
    page = parsed(limits([gauge("0.7", "1.056", None, "1", "bad")]))

    line, now = page.one("line", "limit"), page.one("rect", "over")
    before = page.one("rect", "past")
    assert place(now, "x") + place(now, "width") > place(line, "x1") > place(before, "x") + place(before, "width")


def test_lengths_are_in_proportion() -> None:
    page = parsed(limits([gauge("0.2", "0.6", None, "0.8")]))

    before, now, axis = page.one("rect", "past"), page.one("rect", "s1"), page.one("line", "axis")
    assert 3 == round(place(now, "width") / place(before, "width"), 2)
    limit = place(page.one("line", "limit"), "x1") - place(axis, "x1")
    assert 0.75 == round(place(now, "width") / limit, 2)


def test_a_range_has_two_lines_and_points() -> None:
    page = parsed(limits([gauge("1.21", "1.26", "1.14", "1.24", "warn")]))

    low, high = (place(line, "x1") for line in page.all("line", "limit"))
    before, now = page.one("circle", "past"), page.one("circle", "near")
    assert low < place(before, "cx") < high < place(now, "cx")
    assert not page.all("rect")


def test_what_a_picture_shows_is_in_words() -> None:
    page = parsed(limits([gauge("0.7", "1.056", None, "1", "bad")]))

    assert "before b, now n, limit the limit: as it is" == page.one("desc").text
    assert ["Thing as it is somebody", "before b now n"] == [part.text for part in page.all("p")]


def test_what_did_not_move_is_listed() -> None:
    page = parsed(limits([gauge("1", "1", None, "2"), replace(gauge("1", "1", None, "2"), name="<Other>")]))

    assert not page.all("svg")
    assert "2 other limits" == page.one("summary").text
    assert ["Thing as it is; somebody", "<Other> as it is; somebody"] == [
        head.text for head in page.all("th") if head.attributes["scope"] == "row"
    ]


def test_many_are_drawn_up_to_a_number() -> None:
    page = parsed(limits([gauge("1", str(number + 2), None, "100") for number in range(MOST_DRAWN + 3)]))

    assert MOST_DRAWN == len(page.all("svg"))
    assert "3 other limits" == page.one("summary").text


def test_a_limit_of_nothing_is_drawn() -> None:
    page = parsed(limits([gauge("0", "0.5", None, "0", "bad"), gauge(None, "0", None, "0", "warn")]))

    assert 2 == len(page.all("line", "limit"))
    assert all(0 <= place(rect, "x") + place(rect, "width") <= 100 for rect in page.all("rect"))
