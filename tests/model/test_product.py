"""Whom a product is for, and what a header adds to its type."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.model.law_row import Product
from formula_vcs.model.product import LINES, Audience, audience, completed, share_mixed, younger


@pytest.mark.parametrize(
    ("text", "ages", "users"),
    [
        ("children under 3", {"under-3", "under-1", "under-6", "under-10", "under-16"}, set()),
        ("Children  under 6 years", {"under-1", "under-3", "under-6", "under-10", "under-16"}, set()),
        ("children 3 to 6", {"under-6", "under-10", "under-16"}, set()),
        ("children aged 3-6", {"under-6", "under-10", "under-16"}, set()),
        ("children 6 months to 1 year", {"under-1", "under-3", "under-6", "under-10", "under-16"}, set()),
        ("children 12 months to 3 years", {"under-3", "under-6", "under-10", "under-16"}, set()),
        ("children over 6", {"under-10", "under-16"}, set()),
        ("children from 10", {"under-16"}, set()),
        ("users over 16", {"adults"}, set()),
        ("babies", {"under-1", "under-3", "under-6", "under-10", "under-16"}, set()),
        ("adults", {"adults"}, set()),
        ("professional use", {"adults"}, {"professional"}),
        ("general public", set(), set()),
    ],
)
def test_whom_a_product_is_for(text: str, ages: set[str], users: set[str]) -> None:
    assert Audience(frozenset(ages), frozenset(users)) == audience(text)


@pytest.mark.parametrize("text", ["", "children", "teens", "children 6 to 3", "children 3 to 3", "under", "3", "cats"])
def test_what_does_not_say_whom(text: str) -> None:
    assert audience(text) is None


@given(st.integers(0, 99), st.integers(0, 99))
def test_an_age_is_under_every_line_above_it(low: int, high: int) -> None:
    found = audience(f"children {low} to {high}")

    if low >= high:
        assert found is None
    else:
        assert found is not None
        assert found.ages == (frozenset(f"under-{line}" for line in LINES if low < line) or {"adults"})


def test_who_is_under_three_is_under_six_too() -> None:
    assert {"under-3", "under-6", "under-10", "under-16"} == younger(frozenset({"under-3"}))
    assert {"adults"} == younger(frozenset({"adults"}))


def test_a_header_adds_and_takes_nothing_away() -> None:
    tonic = Product("hair spray", "leave-on", frozenset({"hair"}), frozenset({"hair spray"}), frozenset({"spray"}))

    found = completed(
        tonic, made_for="professional use", spray="aerosol", hydroalcoholic=True, areas=("scalp",), form="aqueous"
    )

    assert {"spray", "aerosol", "hydroalcoholic", "aqueous"} == found.form
    assert {"hair", "scalp"} == found.area
    assert ({"adults"}, {"professional"}) == (set(found.age), set(found.user))
    assert tonic == completed(tonic)
    assert tonic == completed(tonic, spray="none", hydroalcoholic=False, made_for="general public")


@pytest.mark.parametrize(
    ("text", "share"), [("1 to 1", "1/2"), ("1  to 1.5", "2/5"), ("2 to 1", "2/3"), ("0.5 to 1", "1/3")]
)
def test_the_share_of_what_is_mixed(text: str, share: str) -> None:
    assert Fraction(share) == share_mixed(text)


@pytest.mark.parametrize("text", ["", "1", "1:1", "1 to 0", "0 to 1", "one to one", "1 to -1", "1 to 1 to 1"])
def test_what_is_no_ratio(text: str) -> None:
    assert share_mixed(text) is None
