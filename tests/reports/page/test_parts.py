from __future__ import annotations

from formula_vcs.reports.page import parts
from tests.helpers_html import parsed


def test_a_table_has_a_caption_and_scopes() -> None:
    table = parsed(parts.table("Some <numbers>", ("what", "how much"), [("a", "1"), ("<b>", "2")], (1,), ("kg",)))

    assert "Some <numbers>" == table.one("caption").text
    assert ["col", "col", "row", "row"] == [head.attributes["scope"] for head in table.all("th")]
    assert ["a kg", "<b>"] == [head.text for head in table.all("th")[2:]]
    assert ["1", "2"] == [cell.text for cell in table.all("td", "n")]


def test_a_table_that_scrolls_can_be_reached_by_keyboard() -> None:
    wide = parsed(parts.table("Numbers", ("a",), [("1",)])).one("div", "wide")

    assert {"tabindex": "0", "role": "region", "aria-label": "Numbers", "class": "wide"} == wide.attributes


def test_a_long_list_says_what_it_leaves_out() -> None:
    assert ["a", "b"] == parts.cut(["a", "b"], 2, "findings")
    assert "and 3 more findings" in parts.cut(list("abcde"), 2, "findings")[2]


def test_many_causes_are_counted() -> None:
    said = parsed(parts.because(f"cause {number}" for number in range(15))).text

    assert "because cause 11" in said
    assert "cause 12" not in said
    assert said.endswith("and 3 more changes")


def test_nothing_makes_no_list() -> None:
    assert "" == parts.items([])
