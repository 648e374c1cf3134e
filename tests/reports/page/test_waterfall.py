"""The waterfall: every change has its bar, they stand end to end, and what is printed adds up."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formula_vcs.reports.page.waterfall import MOST, waterfall
from tests.helpers_demo import Edit
from tests.helpers_html import Element, parsed
from tests.helpers_page import MORE_PRESERVATIVE, SWAP, review

_MINUS = str.maketrans("\u2212", "-")


def amounts(page: Element) -> list[Decimal]:
    return [Decimal(span.text.translate(_MINUS)) for span in page.all("span", "amount")]


def test_the_parts_add_up_as_they_are_printed() -> None:
    page = parsed(waterfall(review("face-polish", SWAP, MORE_PRESERVATIVE), "cost_per_kg"))

    before, *shares, after = amounts(page)
    assert 2 == len(shares)
    assert after == before + sum(shares)
    assert f"add up to {after - before:+f}" in page.one("figcaption").text.translate(_MINUS)


def test_bars_stand_end_to_end() -> None:
    page = parsed(waterfall(review("face-polish", SWAP, MORE_PRESERVATIVE), "cost_per_kg"))

    up, down = (page.one("rect", css) for css in ("s2", "takes"))
    ends = [float(up.attributes[name].rstrip("%")) for name in ("x", "width")]
    other = [float(down.attributes[name].rstrip("%")) for name in ("x", "width")]
    start, last = (float(circle.attributes["cx"].rstrip("%")) for circle in page.all("circle"))
    assert start == pytest.approx(ends[0], abs=0.02)
    assert sum(ends) == pytest.approx(sum(other), abs=0.02)
    assert last == pytest.approx(other[0], abs=0.02)


def test_a_rise_is_full_and_a_fall_is_hatched_and_signs_say_it_too() -> None:
    page = parsed(waterfall(review("face-polish", SWAP, MORE_PRESERVATIVE), "cost_per_kg"))

    css = [rect.attributes["class"] for rect in page.all("rect")]
    assert ["s2", "takes"] == css
    assert ["+", "\u2212"] == [span.text[0] for span in page.all("span", "amount")[1:-1]]


def test_many_changes_are_folded_and_still_add_up() -> None:
    kinds = [("glycerin          = 5.00", "5.50"), ("kelp-gel-4        = 6.00", "6.50"),
             ("xanthan-gum       = 0.30", "0.35"), ("sodium-benzoate   = 0.40", "0.41"),
             ("potassium-sorbate = 0.25", "0.26"), ("caprylic-triglyceride = 5.00", "5.10"),
             ("glucoside-emulsifier  = 5.00", "5.10"), ("shea-butter           = 4.00", "4.10"),
             ("sunflower-oil-organic = 4.00", "4.10"), ("glyceryl-stearate     = 2.00", "2.10"),
             ("cetearyl-alcohol      = 1.50", "1.60"), ("hedgerow-oils  = 2.00", "2.10")]  # fmt: skip
    edits: list[Edit] = [("hand-cream.toml", old, f"{old.partition('=')[0]}= {new}") for old, new in kinds]

    page = parsed(waterfall(review("hand-cream", *edits), "cost_per_kg"))

    before, *shares, after = amounts(page)
    assert MOST + 1 == len(shares)
    assert "smaller changes together" in page.text
    assert after == before + sum(shares)


def test_nothing_is_drawn_of_what_did_not_move() -> None:
    assert "" == waterfall(review("hand-cream", ("hand-cream.toml", '"6 min"', '"7 min"')), "cost_per_kg")


def test_nothing_is_drawn_of_what_is_not_known() -> None:
    unpriced = ("ingredients/glycerin.toml", "[[price]]", "[[price]]\n")
    text = review("hand-cream", ("hand-cream.toml", "glycerin          = 5.00", "glycerin-x        = 5.00"), unpriced)

    assert "" == waterfall(text, "cost_per_kg")
