"""Several lots in one charge: shares, and what they come to together."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.model.batch import Batch
from formula_vcs.model.quantity import Quantity
from formula_vcs.trace.lot_mixture import LotShare, main_of, mixed, shares_of, title
from formula_vcs.units.unit_reading import read_quantity


def portions(*rows: tuple[str, str | None, str | None]) -> list[LotShare]:
    return [
        LotShare(lot, None if share is None else Fraction(share), None if value is None else read_quantity(value))
        for lot, share, value in rows
    ]


def charge(*rows: tuple[str, str | None]) -> dict[str, Fraction | None]:
    facts: dict[tuple[str, ...], object] = {}
    for number, (lot, mass) in enumerate(rows, 1):
        at = ("phase", "A", "charge", "gum", "lots", str(number))
        facts[*at, "lot"] = lot
        if mass is not None:
            facts[*at, "weighed"] = read_quantity(mass)
    (found,) = Batch("b", facts).charges
    return shares_of(found)


def test_shares_by_hand() -> None:
    assert {"a": Fraction(3, 5), "b": Fraction(2, 5)} == charge(("a", "360 g"), ("b", "0.24 kg"))
    assert {"a": Fraction(3, 4), "b": Fraction(1, 4)} == charge(("a", "1 kg"), ("b", "1 kg"), ("a", "2 kg"))


def test_a_single_lot_is_all_of_it_weighed_or_not() -> None:
    assert {"a": Fraction(1)} == charge(("a", None))


def test_with_a_mass_missing_no_share_is_known() -> None:
    assert {"a": None, "b": None} == charge(("a", "1 kg"), ("b", None))


@pytest.mark.parametrize(
    ("name", "rows", "wanted"),
    [
        # 0.6 x 2000 + 0.4 x 1540 = 1816
        ("viscosity", [("a", "3/5", "2000 mPa*s"), ("b", "2/5", "1540 mPa*s")], "1816 mPa*s"),
        # 0.5 x 400 + 0.5 x 450 mPa*s = 425
        ("viscosity", [("a", "1/2", "400 mPa*s"), ("b", "1/2", "0.45 Pa*s")], "425 mPa*s"),
        # 2/3 x 11 + 1/3 x 14 = 12
        ("moisture", [("a", "2/3", "11 %"), ("b", "1/3", "14 %")], "12 %"),
        ("pH", [("a", "1/2", "5.0"), ("b", "1/2", "5.0")], "5.0"),
        ("pH", [("a", "1/2", "4.0"), ("b", "1/2", "6.0")], None),
        ("assay", [("a", "1/2", "98 %"), ("b", "1/2", None)], None),
        ("assay", [("a", None, "98 %"), ("b", None, "96 %")], None),
        ("assay", [("a", None, "98 %"), ("b", None, "98 %")], "98 %"),
        ("assay", [("a", "1/2", "98 %"), ("b", "1/2", "3 mPa*s")], None),
        ("assay", [], None),
    ],
)
def test_a_mixture_by_hand(name: str, rows: list[tuple[str, str | None, str | None]], wanted: str | None) -> None:
    found = mixed(name, portions(*rows))

    assert wanted == (None if found is None else str(found))


@given(st.lists(st.tuples(st.integers(1, 50), st.integers(1, 9999)), min_size=2, max_size=5))
def test_a_mixture_lies_between_its_lots(rows: list[tuple[int, int]]) -> None:
    whole = sum(mass for mass, _ in rows)
    known = [
        LotShare(f"l{n}", Fraction(mass, whole), read_quantity(f"{value} g")) for n, (mass, value) in enumerate(rows)
    ]
    found = mixed("weight", known)

    assert isinstance(found, Quantity)
    values = [value for _, value in rows]
    assert min(values) <= found.value <= max(values)


def test_the_lot_with_most_in_it() -> None:
    shares = {"a": Fraction(1, 4), "b": Fraction(1, 2), "c": Fraction(1, 4)}

    assert "b" == main_of(shares)
    assert "a" == main_of(shares, but=("b",))
    assert main_of({}) is None
    assert "a (25 %), b (50 %), c (25 %)" == title(("a", "b", "c"), shares)
