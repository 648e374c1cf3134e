"""Limits of the law, each quoted beside the row that carries it, and each tried on both sides.

``law/limits.txt`` is a second writing of the values, noted from Regulation (EC) No 1223/2009, consolidated text of 18
May 2026, Annexes III and V, and 21 CFR 73, 74, 355 and 700.  A row of the packs that is marked as checked against the
text and not quoted there fails a test.
"""

from __future__ import annotations

import datetime
from fractions import Fraction
from pathlib import Path

import pytest

from formula_vcs.law.packs_in_force import factor, law_of
from formula_vcs.model.law_row import LawRow
from tests.published.helpers_law import DAY, formula, found, headed_for, material, text

QUOTED = {
    line.split(" | ")[0]: line.split(" | ")[1:]
    for line in (Path(__file__).parent / "law" / "limits.txt").read_text("utf-8").splitlines()
    if line and not line.startswith("#")
}
ROWS = [
    row
    for row in law_of(("EU", "US"), ("iso-11609",)).all_rows()
    if row.at_most is not None and not row.per_pack and row.kind != "prohibited"  # of those it is the trace
]
LIMITS = [pytest.param(row, id=row.id) for row in ROWS]


def _amount(row: LawRow, share: Fraction) -> tuple[str, str, datetime.date]:
    """Give the name of a substance of the row, the amount that is a share of its limit, and a day in force."""
    assert row.at_most is not None
    name = row.spelled[-1] if row.kind == "sum" and row.others else row.spelled[0]
    known = factor(name.casefold(), row.basis)
    assert known is not None
    day = row.placed.first or DAY
    day = max(day, DAY) if row.placed.covers(max(day, DAY)) else row.placed.last or day
    return name, text(row.at_most * share / known.value), day


def _blocked_by(row: LawRow, share: Fraction) -> bool:
    headed = headed_for(row)
    assert headed is not None, "no product type is meant by this row"
    kind, header = headed
    name, amount, day = _amount(row, share)
    function = f'functions = ["{row.function}"]' if row.function else 'functions = ["other"]'
    materials = {"active": material({name.removesuffix(" (nano)"): _share(name)}, head=function)}
    charges: dict[str, object] = {"active": amount}
    if row.others:
        # half as one benzoate, half as the other
        materials["other"] = material({"Benzoic Acid": 100})
        first, _, _ = row.spelled[-1], name, day
        half = factor(first.casefold(), row.basis)
        assert half is not None
        assert row.at_most is not None
        charges = {"active": text(row.at_most * share / 2 / half.value), "other": text(row.at_most * share / 2)}
    of = formula(charges, materials, kind, ("EU", "US"), header, workspace='packs = ["iso-11609"]\n')
    return any(f.rule == "limit" and f.subject.startswith(f"{row.id}/") for f in found(of, day))


def _share(name: str) -> str:
    return "{ pct = 100, nano = true }" if name.endswith(" (nano)") else "100"


@pytest.mark.parametrize("row", LIMITS)
def test_a_limit_holds_on_both_sides(row: LawRow) -> None:
    """A part in a thousand more than allowed is said, a part in a thousand less is not.

    Or as much more and less as the atomic weights leave open: that of lithium is known to one part in a hundred.
    """
    known = factor(row.names[0], row.basis)
    assert known is not None
    margin = max(Fraction(1, 1000), known.doubt / known.value * Fraction("1.01"))
    assert _blocked_by(row, 1 + margin)
    assert not _blocked_by(row, 1 - margin)


@pytest.mark.parametrize("row", [row for row in ROWS if row.checked == "text"], ids=lambda row: row.id)
def test_a_limit_checked_against_the_text_is_quoted(row: LawRow) -> None:
    entry, value = QUOTED[row.id]

    assert row.citation.endswith(entry)
    assert row.at_most is not None
    assert Fraction(value) == row.at_most


def test_nothing_is_quoted_that_no_row_carries() -> None:
    assert set() == set(QUOTED) - {row.id for row in ROWS}
