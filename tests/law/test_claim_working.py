"""The arithmetic of claims, done again from what is printed, and the rows of a composition."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.origin import content, content_without_water, working
from formula_vcs.figures.standards import of_product
from formula_vcs.law.claim_working import claim_working, number
from formula_vcs.law.claims.table import judge_claim
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.pack_rows import band, composition_rows, unknown_materials
from formula_vcs.model.ingredient import COSMOS_CLASSES, ORIGIN_INDICES
from tests.helpers_demo import demo

DAY = datetime.date(2026, 6, 1)
RECIPES = ("hand-cream", "face-polish", "face-toner", "lip-balm", "shower-wash")


@pytest.mark.parametrize("recipe", RECIPES)
@pytest.mark.parametrize("index", ORIGIN_INDICES)
def test_the_summands_of_a_content_add_up_to_it(recipe: str, index: str) -> None:
    """Done by hand from the lines, with and without water, it is the figure: ISO 16128-2, clause 5."""
    sums = Breakdown(demo(recipe))
    how = working(sums, index)
    known = [(term.share, term.factor) for term in how.terms if isinstance(term.factor, Fraction)]
    total = sum((share * factor for share, factor in known), Fraction(0))
    wet, dry = content(sums, Terms(DAY), index), content_without_water(sums, Terms(DAY), index)

    assert (wet.value is None) == any(isinstance(term.factor, str) for term in how.terms)
    if wet.value is not None:
        assert wet.value == total
        assert dry.value == (total - how.from_water) / (100 - how.water) * 100


def test_what_is_printed_can_be_done_again() -> None:
    found = demo("hand-cream")
    law = Compliance(found, Breakdown(found))
    how = claim_working(law, judge_claim(law, "natural-origin at least 95 %", DAY), DAY)
    products = [Fraction(row[1]) * Fraction(row[2]) for row in how.rows]

    assert [Fraction(row[3]) for row in how.rows] == products
    assert Fraction(how.sums[0][1]) == sum(products)
    assert Fraction("99.314") == sum(products)


def test_the_classes_of_the_scheme_can_be_done_again() -> None:
    found = demo("lip-balm")
    law = Compliance(found, Breakdown(found))
    how = claim_working(law, judge_claim(law, "cosmos-natural-4", DAY), DAY)
    whole = of_product(law.sums, DAY)
    shares = [Fraction(row[1]) for row in how.rows]

    for place, name in enumerate(COSMOS_CLASSES, 2):
        done = sum(
            (share * Fraction(row[place]) / 100 for share, row in zip(shares, how.rows, strict=True)), Fraction(0)
        )
        assert whole.classes[name].value == done, name


def test_what_no_file_says_is_not_on_file() -> None:
    found = demo("lip-balm", ("ingredients/jojoba-oil.toml", "natural        = 1\n", ""))
    law = Compliance(found, Breakdown(found))
    how = claim_working(law, judge_claim(law, "natural at least 95 %", DAY), DAY)

    assert "needs information" == how.outcome.verdict
    assert [("8", "not on file", "not on file")] == [row[1:4] for row in how.rows if "Jojoba" in row[0]]
    assert "between, as long as facts are not on file, %" in dict(how.sums)


@pytest.mark.parametrize("recipe", RECIPES)
def test_a_composition_adds_up_to_100(recipe: str) -> None:
    sums = Breakdown(demo(recipe))
    rows = composition_rows(sums)

    assert [] == list(unknown_materials(sums))
    assert 100 == sum(row.pct for row in rows)
    for row in rows:
        assert row.pct == sum(one.share * one.pct / 100 for one in row.brought)


def test_numbers_are_the_materials_and_else_the_inventory_s() -> None:
    """Glycerin: CAS 56-81-5, EC 200-289-5 (European Commission, CosIng)."""
    rows = {row.inci: row for row in composition_rows(Breakdown(demo("hand-cream")))}

    assert ("56-81-5", "200-289-5", ("EC",)) == (rows["Glycerin"].cas, rows["Glycerin"].ec, rows["Glycerin"].looked_up)
    assert "" == rows["Algin"].ec
    assert "function" in rows["Cetearyl Glucoside"].looked_up


@pytest.mark.parametrize(
    ("pct", "expected"),
    [
        ("0.0001", "at most 0.1 %"), ("0.1", "at most 0.1 %"), ("0.1001", "> 0.1 to 1 %"), ("1", "> 0.1 to 1 %"),
        ("5", "> 1 to 5 %"), ("5.01", "> 5 to 10 %"), ("25", "> 10 to 25 %"), ("50", "> 25 to 50 %"),
        ("75", "> 50 to 75 %"), ("75.0001", "> 75 to 100 %"), ("100", "> 75 to 100 %"), ("101", "> 75 to 100 %"),
    ],
)  # fmt: skip
def test_the_edge_of_a_range_belongs_to_the_lower_one(pct: str, expected: str) -> None:
    assert expected == band(Fraction(pct))


@pytest.mark.parametrize(
    ("value", "expected"), [("1/3", "0.333333 (rounded)"), ("0.1", "0.1"), ("1/1048576", "0.000001 (rounded)")]
)
def test_what_has_no_few_digits_is_marked_as_rounded(value: str, expected: str) -> None:
    assert expected == number(Fraction(value))
