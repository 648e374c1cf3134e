"""A strip for each value: where the batch, its peers and the limit stand on it."""

from __future__ import annotations

from fractions import Fraction

from formula_vcs.reports.page.strip_plot import Strip, strip_plot
from tests.helpers_html import parsed, strange

PEERS = tuple(map(Fraction, (22, 23, 24)))


def strip(number: int, *, outside: bool = False, limit: tuple[Fraction, Fraction] | None = None) -> Strip:
    return Strip("visc <b>", f"{number} Pa*s", Fraction(number), PEERS, limit, outside)


def test_the_ends_of_the_scale_are_what_is_farthest() -> None:
    """From 14 (the batch) to 26 (the limit): 2 % and 98 % of the width; 23 stands at 2 + 96 x 9/12 = 74 %."""
    page = parsed(strip_plot("Caption", [strip(14, outside=True, limit=(Fraction(20), Fraction(26)))]))

    (dot,) = page.all("circle")
    assert ("2%", "out") == (dot.attributes["cx"], dot.attributes["class"])
    ticks = [line.attributes["x1"] for line in page.all("line", "axis")]
    assert ["66%", "74%", "82%"] == ticks
    uprights = [line.attributes for line in page.all("line", "limit") if line.attributes["x1"] == line.attributes["x2"]]
    assert ["50%", "98%"] == [line["x1"] for line in uprights]


def test_where_no_limit_is_known_none_is_drawn() -> None:
    page = parsed(strip_plot("Caption", [strip(23)]))

    assert [] == page.all("line", "limit")
    assert "s1" == page.one("circle").attributes["class"]


def test_all_alike_stand_in_the_middle() -> None:
    page = parsed(strip_plot("Caption", [Strip("n", "w", Fraction(5), (Fraction(5),), None, False)]))

    assert "50%" == page.one("circle").attributes["cx"]


def test_it_is_ours_and_says_in_words_what_it_draws() -> None:
    page = parsed(strip_plot("Caption", [strip(14, outside=True)]))

    assert [] == strange(page)
    assert "visc <b>" == page.one("title").text
    assert "14 Pa*s; 3 peers, outside the limit" == page.one("desc").text
