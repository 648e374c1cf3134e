"""The label before and after, with what moved."""

from __future__ import annotations

from formula_vcs.reports.page.inci import inci
from tests.helpers_demo import Edit
from tests.helpers_html import Element, parsed
from tests.helpers_page import MORE_PRESERVATIVE, review


def label(recipe: str, *edits: Edit) -> Element:
    found = review(recipe, *edits)
    assert found.sides is not None
    return parsed(inci(found, found.sides))


def test_a_name_that_moved_says_from_where_and_by_which_change() -> None:
    """Benzyl alcohol goes from 0.704 to 1.056 %, past sodium cocoyl glutamate at 0.9 % and over the line at 1 %."""
    page = label("face-polish", MORE_PRESERVATIVE)

    before, now = page.all("dd")
    assert "Benzyl Alcohol (was 7th, now above the line at 1 %)" in now.text
    assert not before.all("em")
    assert "Aqua, Glycerin" in before.text
    assert "Which change moved which name" == page.one("summary").text
    assert "because benzyl-alcohol-dha (D): 0.80 \u2192 1.20 %" in page.one("details").text


def test_a_move_below_one_percent_is_said_to_be_free() -> None:
    assert "Dehydroacetic Acid (was 13th, where any order will do)" in label("face-polish", MORE_PRESERVATIVE).text


def test_names_that_came_and_went() -> None:
    swap = ("hand-cream.toml", "corn-starch    = {", "kaolin-white   = {")

    page = label("hand-cream", swap)

    before, now = page.all("dd")
    assert ["Zea Mays Starch"] == [gone.text for gone in before.all("del")]
    assert ["Kaolin"] == [new.text for new in now.all("ins")]
    assert "Zea Mays Starch (gone)" in before.text
    assert "Kaolin (new)" in now.text


def test_the_fewest_names_are_marked_as_moved() -> None:
    """Glycerin falls below the butter: one name moved, however it is counted."""
    less = ("hand-cream.toml", "glycerin          = 5.00", "glycerin          = 3.00")

    page = label("hand-cream", less)

    assert 1 == len([em for em in page.all("em") if em.text in ("Glycerin", "Butyrospermum Parkii Butter")])
    assert "(was " in page.text


def test_a_list_that_stays_is_shown_once() -> None:
    page = label("hand-cream", ("hand-cream.toml", '"6 min"', '"7 min"'))

    assert "The ingredient list, which keeps its names and their order" == page.one("summary").text
    assert not page.all("dd")


def test_a_premix_has_no_label() -> None:
    premix = ("premixes/citric-acid-50.toml", "= 50.00", "= 49.00")

    assert "" == label("citric-acid-50", premix).text
