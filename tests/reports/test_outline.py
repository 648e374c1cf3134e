"""A comparison laid out: rows, effects, folding of what is small, verdicts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from formula_vcs.diff.change import Change, Put
from formula_vcs.diff.effects import Effect, Share
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.reports import review_document
from formula_vcs.review.compare import Comparison, Review, compare
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
TERMS = Terms(date(2026, 6, 1))


def change(kind: str, text: str, where: str = "phase/A/charge/x") -> Change:
    return Change(kind, where, None, None, text, (Put("", ("x",), 1),))


def review(effects: tuple[Effect, ...], *changes: Change) -> Review:
    return Review("r", "R", "changed", "r.toml", changes, effects, (), (), ())


def effect(before: str, after: str, shares: Mapping[str, str], name: str = "cost_per_kg") -> Effect:
    unit = "EUR/kg" if name.startswith("cost") else "%"
    return Effect(
        name, Figure(name, Fraction(before), unit), Figure(name, Fraction(after), unit),
        tuple(Share(change, Fraction(value)) for change, value in shares.items()),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "text", "brief"),
    [
        ("amount", "glycerin (A): 4.00 \u2192 5.00 %, +1.00 points (+25 % of it)", "glycerin (A)"),
        ("moved", "oil: moved from phase A to B, 4 %", "oil, moved"),
        ("removed", "oil (A): removed, was 4 %", "oil (A), removed"),
        ("grade-swap", "a \u2192 b (A): another grade, 4 %", "a \u2192 b (A)"),
        ("price", "oil, price: 1 EUR/kg \u2192 2 EUR/kg", "oil, price"),
        ("premix", "premix 'gel': water (A): 4 \u2192 5 %", "premix 'gel', water (A)"),
    ],
)
def test_a_change_shortly(kind: str, text: str, brief: str) -> None:
    assert brief == review_document.brief(change(kind, text))


def test_rows_of_numbers_stand_apart_and_derived_ones_come_last() -> None:
    derived = Change("balance", "phase/A/charge/w", "1", "2", "w (A, the balance): 1.00 \u2192 2.00 %, +1.00 points")
    up = change("amount", "oil (A): 4.00 \u2192 5.00 %, +1.00 points (+25 % of it)")
    parts = change("amount", "oil (A): 4 \u2192 5 parts, +1.00 parts (+25 % of it)")
    new = change("amount", "oil (A): now 5.00 %")

    rows = review_document.rows([derived, up, parts, new])

    assert [
        ("\u2191", "oil (A)", "4.00", "5.00", "%", "+1.00 points", "+25 %", False),
        ("\u2191", "oil (A)", "4", "5", "parts", "+1.00 parts", "+25 %", False),
        ("~", "", "", "", "", "", "", False),
        ("\u2191", "w (A, the balance)", "1.00", "2.00", "%", "+1.00 points", "", True),
    ] == [(r.sign, r.name, r.old, r.new, r.unit, r.by, r.relative, r.follows) for r in rows]


def test_shares_are_sorted_and_small_ones_folded() -> None:
    changes = [change("amount", f"c{i} (A): 1 \u2192 2 %", f"w{i}") for i in range(4)]
    shares = {"amount:w0": "0.1", "amount:w1": "-0.5", "amount:w2": "0.00001", "amount:w3": "0.00003"}

    moved = review_document.moves(review((effect("1", "0.60004", shares),), *changes)).moved[0]

    assert ("1.0000", "0.6000", "\u22120.4000", -1) == (moved.before, moved.after, moved.difference, moved.sign)
    assert [
        ("c1 (A)", "\u22120.5000"), ("c0 (A)", "+0.1000"), ("and 2 smaller changes together", ""),
    ] == [(part.text, part.value) for part in moved.parts]  # fmt: skip


def test_printed_shares_add_up_to_the_printed_difference() -> None:
    """Three equal shares of 0.0002: no rounding of each gives 0.0002, so one digit goes to two of them."""
    changes = [change("amount", f"c{i} (A): 1 \u2192 2 %", f"w{i}") for i in range(3)]
    shares = {f"amount:w{i}": "2/30000" for i in range(3)}

    moved = review_document.moves(review((effect("1", "10002/10000", shares),), *changes)).moved[0]

    assert ["+0.0001", "+0.0001", ""] == [part.value for part in moved.parts]
    assert Decimal(moved.difference) == sum(Decimal(part.value or 0) for part in moved.parts)


def test_all_by_one_of_several_changes_or_by_several_small_ones() -> None:
    changes = [change("amount", f"c{i} (A): 1 \u2192 2 %", f"w{i}") for i in range(3)]
    small = {f"amount:w{i}": "1/30000" for i in range(3)}

    moved = [
        review_document.moves(review((one,), *changes)).moved[0]
        for one in (effect("1", "2", {"amount:w1": "1"}), effect("1", "10001/10000", small))
    ]

    assert [("c1 (A)", ()), ("3 smaller changes together", ())] == [(item.by, item.parts) for item in moved]


def test_one_change_needs_no_shares_and_figures_in_the_same_parts_are_said_once() -> None:
    two = [change("amount", f"c{i} (A): 1 \u2192 2 %", f"w{i}") for i in range(2)]
    shares = {"amount:w0": "0.1", "amount:w1": "0.2"}
    halves = {"amount:w0": "0.05", "amount:w1": "0.1"}
    both = (effect("1", "1.3", shares), effect("1", "1.15", halves, "cost_per_pack"))

    one = review_document.moves(review((effect("1", "1.1", {"amount:w0": "0.1"}),), two[0])).moved[0]
    moved = review_document.moves(review(both, *two)).moved

    assert ((), ()) == (one.parts, one.notes)
    assert [(2, ()), (0, ("in the same parts as cost per kg",))] == [(len(m.parts), m.notes) for m in moved]


def test_what_moves_by_less_than_is_shown_is_counted() -> None:
    moves = review_document.moves(review((effect("1", "1.00001", {}, "water"),), change("amount", "x (A): 1")))

    assert ((), ("water",)) == (moves.moved, moves.less)


def test_a_total_is_shown_with_every_digit() -> None:
    moved = review_document.moves(
        review((effect("100", "100.0005", {}, "total"),), change("amount", "x (A): 1"))
    ).moved[0]

    assert ("100.0000", "100.0005", "+0.0005 points") == (moved.before, moved.after, moved.difference)


def test_a_side_that_is_not_known_says_what_is_missing() -> None:
    lost = Effect("natural", Figure("natural", Fraction(98), "%"), Figure("natural", None, "%", ("gum: no index",)))

    moves = review_document.moves(review((lost,), change("amount", "x (A): 1")))

    assert [("98.00 %", "not known", "")] == [(m.before, m.after, m.difference) for m in moves.moved]
    assert ("now: gum: no index",) == moves.missing


def _comparison(workspace: MakeWorkspace, changed: Mapping[str, str | None]) -> Comparison:
    return compare(workspace(), workspace(changed), TERMS)


def test_verdicts(workspace: MakeWorkspace, minimal: dict[str, str]) -> None:
    bad = _comparison(workspace, {"cream.toml": minimal["cream.toml"].replace('"to 100"', "94.00")})
    good = _comparison(workspace, {"cream.toml": minimal["cream.toml"].replace("5.00", "6.00")})

    assert (["total (cream)"], "blocked by total") == (
        review_document.verdict(bad.reviews),
        review_document.said(bad.reviews[0]),
    )
    assert ([], "nothing blocks") == (
        review_document.verdict(good.reviews),
        review_document.said(good.reviews[0]).partition(";")[0],
    )
    assert (1, 0) == (review_document.blocking_news(bad), review_document.blocking_news(good))


def test_files_that_came_at_large_are_counted() -> None:
    many = [
        Change("other", f"ingredient/i{n}", None, f"ingredients/i{n}.toml", f"ingredients/i{n}.toml: added")
        for n in range(5)
    ]
    one = Change("other", "lot/a", "lots/a.toml", None, "lots/a.toml: removed")

    assert [("+", "ingredients: 5 files added"), ("\u2212", "lots/a.toml: removed")] == [
        (row.sign, row.text) for row in review_document.beside([*many, one])
    ]
