"""Stacked bars by phase: widths are percentages, letters name them, and a table has the numbers."""

from __future__ import annotations

from formula_vcs.reports.page.composition import MOST, composition
from formula_vcs.review.compare import ReviewSides
from tests.helpers_html import Element, parsed
from tests.helpers_page import sides

MOVED = (
    ("hand-cream.toml", "glyceryl-caprylate    = 0.50\n", ""),
    ("hand-cream.toml", "[phase.C.charge]\n", "[phase.C.charge]\nglyceryl-caprylate = 0.50\n"),
)


def widths(page: Element) -> list[float]:
    return [float(rect.attributes["width"].rstrip("%")) for rect in page.all("rect")]


def test_the_parts_of_a_bar_are_its_percentages() -> None:
    """By hand: phase B of the hand cream is 22 % before and 21.5 % after a charge of 0.5 % moved to C, 3.95 %."""
    page = parsed(composition(sides("hand-cream", *MOVED)))

    assert [74.05, 22.0, 3.95, 74.05, 21.5, 4.45] == widths(page)
    assert ["before", "A", "B", "C", "now", "A", "B", "C"] == [text.text for text in page.all("text")]


def test_the_table_says_the_shift() -> None:
    page = parsed(composition(sides("hand-cream", *MOVED)))

    rows = [[cell.text for cell in row.all() if cell.tag in ("th", "td")] for row in page.all("tr")]
    assert ["A Water phase", "74.05", "74.05", "the same"] == rows[1]
    assert ["B Oil phase", "22.00", "21.50", "\u22120.50"] == rows[2]
    assert ["C Cool-down", "3.95", "4.45", "+0.50"] == rows[3]


def test_a_new_recipe_has_one_bar() -> None:
    found = sides("hand-cream", *MOVED)
    empty = type(found.past.recipe)("hand-cream", {})
    new = ReviewSides(type(found.past)(empty, {}, {}, found.past.workspace), found.present, found.terms)

    assert ["now", "A", "B", "C"] == [text.text for text in parsed(composition(new)).all("text")]


def test_many_phases_are_gathered_and_still_fill_the_bar() -> None:
    phases = "".join(f"\n[phase.P{n}.charge]\nkaolin-white = 0.10\n" for n in range(MOST + 5))
    more = ("face-polish.toml", "\n[[step]]", f"{phases}\n[[step]]")

    page = parsed(composition(sides("face-polish", more)))

    now = widths(page)[4:]
    assert MOST + 1 == len(now)
    assert 100 == round(sum(now), 1)
    assert f"{MOST + 9} phases" == page.one("summary").text


def test_nothing_is_drawn_where_no_phase_moves() -> None:
    """Glycerin against the water of its own phase: both bars would be the same."""
    assert "" == composition(
        sides("hand-cream", ("hand-cream.toml", "glycerin          = 5.00", "glycerin          = 6.00"))
    )


def test_a_balance_below_nothing_takes_no_room() -> None:
    wrong = ("hand-cream.toml", "corn-starch    = { pct = 1.50", "corn-starch    = { pct = 95.00")

    page = parsed(composition(sides("hand-cream", wrong)))

    assert all(width > 0 for width in widths(page))
    assert 100 == round(sum(widths(page)[3:]), 1)
