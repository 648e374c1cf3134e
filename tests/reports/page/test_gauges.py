"""Numbers against limits: those of the law, of claims, of the recipe's spec."""

from __future__ import annotations

from fractions import Fraction

from formula_vcs.reports.page.gauges import Gauge, gauges
from tests.helpers_page import MORE_PRESERVATIVE, sides

CLAIM = ("hand-cream.toml", 'claims  = ["natural-origin at least 95 %"]', "claims  = []")


def named(found: list[Gauge], name: str) -> Gauge:
    return next(gauge for gauge in found if gauge.name == name)


def test_a_limit_that_is_broken_stands_first() -> None:
    """Benzyl alcohol 1.0 %: Regulation (EC) No 1223/2009, Annex V/34; 88 % of the blend, so 0.704 becomes 1.056."""
    first = gauges(sides("face-polish", MORE_PRESERVATIVE))[0]

    assert ("Benzyl Alcohol", "over the limit", "bad") == (first.name, first.state, first.css)
    assert (Fraction("0.704"), Fraction("1.056")) == (first.before, first.after)
    assert (None, Fraction(1)) == (first.low, first.high)
    assert ("0.704 %", "1.056 %", "at most 1.00 %") == first.said
    assert "Annex V/34" in first.source


def test_a_claim_is_a_limit_from_below() -> None:
    emulsifier = ("ingredients/glucoside-emulsifier.toml", "natural_origin = 1", "natural_origin = 0")

    claim = named(gauges(sides("hand-cream", emulsifier)), "natural origin")

    assert ("missed", "bad") == (claim.state, claim.css)
    assert (Fraction(95), None) == (claim.low, claim.high)
    assert claim.after == (claim.before or 0) - 5


def test_a_claim_that_was_not_made_before_has_nothing_before() -> None:
    pair = sides("hand-cream", CLAIM)
    back = type(pair)(pair.present, pair.past, pair.terms)

    claim = named(gauges(back), "natural origin")

    assert ("not claimed", None) == (claim.said[0], claim.before)
    assert "kept" == claim.state


def test_a_substance_that_left_is_said_to_be_gone() -> None:
    gone = ("face-polish.toml", "benzyl-alcohol-dha  = 0.80\n", "")

    alcohol = named(gauges(sides("face-polish", gone)), "Benzyl Alcohol")

    assert (Fraction("0.704"), None) == (alcohol.before, alcohol.after)
    assert ("not in it any more", "none") == (alcohol.state, alcohol.said[1])


def test_a_spec_is_a_range_around_an_estimate() -> None:
    density = named(gauges(sides("face-polish", MORE_PRESERVATIVE)), "density (estimate)")

    assert (Fraction("1.14"), Fraction("1.24")) == (density.low, density.high)
    assert ("estimate inside the spec", "good") == (density.state, density.css)


def test_an_estimate_outside_the_spec_warns() -> None:
    lighter = ("face-polish.toml", "kaolin-white = 12.00", "kaolin-white = 2.00")

    density = named(gauges(sides("face-polish", lighter)), "density (estimate)")

    assert ("estimate outside the spec", "warn") == (density.state, density.css)


def test_nothing_moved_says_so() -> None:
    assert not any(gauge.moved for gauge in gauges(sides("hand-cream", ("hand-cream.toml", '"6 min"', '"7 min"'))))


def test_a_limit_that_is_for_the_product_no_more_does_not_read_as_gone() -> None:
    premix = ("hand-cream.toml", '"hand cream"', '"premix"')

    benzoate = named(gauges(sides("hand-cream", premix)), "Sodium Benzoate as Benzoic Acid")

    assert ("not judged any more", "warn", "not judged") == (benzoate.state, benzoate.css, benzoate.said[1])
