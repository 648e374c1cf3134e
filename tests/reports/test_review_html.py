"""The page of a review, whole: its parts, its order, and that a reader can find the way."""

from __future__ import annotations

import io
from dataclasses import replace
from itertools import pairwise

import pytest

from formula_vcs.reports.diff import html as diff_html
from formula_vcs.reports.review import html as review_html
from formula_vcs.review.compare import Comparison
from tests.helpers_html import Element, parsed, strange
from tests.helpers_page import MORE_PRESERVATIVE, SWAP, compared

LONGER = ("hand-cream.toml", 'time  = "6 min"', 'time  = "9 min"')


def page_of(comparison: Comparison, *, blocked: bool = True) -> Element:
    out = io.StringIO()
    review_html.write(comparison, title="main...proposal", evidence=False, blocked=blocked, out=out)
    return parsed(out.getvalue())


@pytest.fixture(scope="module")
def page() -> Element:
    return page_of(compared(SWAP, MORE_PRESERVATIVE, LONGER))


def test_it_holds_only_what_a_page_of_ours_may(page: Element) -> None:
    assert [] == strange(page)


def test_the_answer_comes_before_everything(page: Element) -> None:
    main = page.one("main")
    first = next(part for part in main.inside if isinstance(part, Element))

    assert "verdict" == first.attributes["id"]
    assert first.text.startswith("Do not merge")
    assert "Recipe review" == page.one("h1").text


def test_what_blocks_is_the_first_recipe(page: Element) -> None:
    assert ["Tideline face polish face-polish", "Skerry hand cream hand-cream"] == [h.text for h in page.all("h2")]


def test_each_recipe_has_the_four_parts_in_their_order(page: Element) -> None:
    parts = ["What it breaks", "What changed", "What has to follow", "What it does"]
    for section in page.all("section", "sheet"):
        assert parts == [head.text for head in section.all("h3")]


def test_each_recipe_has_its_pictures(page: Element) -> None:
    polish, cream = page.all("section", "sheet")

    for section in (polish, cream):
        heads = {head.text for head in section.all("h4")}
        assert {"The label", "The process", "Figures"} <= heads
        assert ("Composition" in heads) == (section is polish)  # only where a phase moved
    assert {"Against the limits", "Cost"} <= {head.text for head in polish.all("h4")}


def test_headings_go_down_one_level_at_a_time(page: Element) -> None:
    levels = [int(element.tag[1]) for element in page.all() if element.tag in ("h1", "h2", "h3", "h4")]

    assert 1 == levels[0]
    assert 1 == levels.count(1)
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_pictures_have_a_name_and_a_description(page: Element) -> None:
    pictures = [svg for svg in page.all("svg") if "defs" not in svg.css]

    assert pictures
    for svg in pictures:
        assert "img" == svg.attributes["role"]
        assert svg.one("title").text
        assert svg.one("desc").text


def test_tables_have_captions_and_scopes(page: Element) -> None:
    for table in page.all("table"):
        assert table.one("caption").text
        assert all(head.attributes["scope"] in ("col", "row") for head in table.all("th"))
        assert all("row" == row.all()[0].attributes["scope"] for row in table.one("tbody").all("tr"))


def test_no_difference_is_a_page_too() -> None:
    page = page_of(compared(), blocked=False)

    assert "No difference." in page.one("main").text
    assert not page.all("section")
    assert [] == strange(page)


def test_layout_alone_is_said() -> None:
    page = page_of(compared(("hand-cream.toml", "[phase.A]\n", "# a remark\n[phase.A]\n")), blocked=False)

    assert "No change in meaning, in layout or comments only: hand-cream." in page.text


@pytest.mark.parametrize(
    ("edits", "more", "words"),
    [
        ((), {"new-cream.toml": 'title = "New"\n[phase.A.charge]\nwater = "to 100"\n'}, "New recipe, 1 charge."),
        ((("hand-cream.toml", "title   =", "title   = ="),), {}, "Its file cannot be read, so it is not compared."),
    ],
    ids=["added", "unread"],
)
def test_recipes_that_came_or_cannot_be_read(
    edits: tuple[tuple[str, str, str], ...], more: dict[str, str], words: str
) -> None:
    page = page_of(compared(*edits, more=more))

    assert words in page.text
    assert [] == strange(page)


def test_a_removed_recipe() -> None:
    forth = compared(more={"new-cream.toml": 'title = "New"\n[phase.A.charge]\nwater = "to 100"\n'})
    (review,) = forth.reviews
    assert review.sides is not None
    back = replace(
        review, status="removed", sides=type(review.sides)(review.sides.present, review.sides.past, review.sides.terms)
    )

    page = page_of(replace(forth, reviews=(back,)))

    assert "Recipe removed, it had 1 charge." in page.text
    assert ["before", "A"] == [text.text for text in page.all("text")]
    assert [] == strange(page)


def test_two_hundred_recipes_are_less_than_five_megabytes_and_the_worst_has_its_pictures() -> None:
    """Two recipes of the demo, each a hundred times: as long as recipes of a real house are."""
    found = compared(SWAP, MORE_PRESERVATIVE, LONGER)
    out = io.StringIO()
    review_html.write(replace(found, reviews=found.reviews * 100), title="t", evidence=False, blocked=True, out=out)
    page = parsed(out.getvalue())

    assert 5_000_000 > len(out.getvalue().encode())
    assert 200 == len(page.all("section", "sheet"))
    assert page.all("section", "sheet")[0].all("svg")
    assert "left out here to keep the page small" in page.all("section", "sheet")[-1].text


def test_the_page_of_a_diff_judges_nothing() -> None:
    out = io.StringIO()
    diff_html.write(compared(SWAP, MORE_PRESERVATIVE), title="a..b", out=out)
    page = parsed(out.getvalue())

    assert [] == strange(page)
    assert "Recipe changes" == page.one("h1").text
    assert ["What changed", "What it does"] == [head.text for head in page.all("h3")]
    assert "3 new findings block." == page.one("p", "answer").text
