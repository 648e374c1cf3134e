"""The exact search, against trying every combination of steps."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formula_vcs.mending.exact_lp import AtLeast, cheapest
from formula_vcs.mending.solver import solved
from formula_vcs.mending.whole_search import Condition, Steps, TooManyError, WholeSearch

_PARTS = st.integers(-9, 9).map(lambda n: Fraction(n, 4))


@st.composite
def searches(draw: st.DrawFn) -> tuple[Steps, tuple[Condition, ...], int, bool]:
    """Draw up to four charges of a few steps, up to four conditions, prices or none, and whether half is refused."""
    count = draw(st.integers(1, 4))
    spans = st.lists(st.integers(0, 4), min_size=count, max_size=count)
    priced = draw(st.booleans())
    prices = [Fraction(draw(st.integers(-50, 50)), 7) if priced else Fraction(0) for _ in range(count)]
    steps = Steps(
        tuple(draw(spans)), tuple(draw(spans)), tuple(prices), Fraction(1, 100_000) if priced else Fraction(1)
    )
    conditions = tuple(
        Condition(str(k), Fraction(draw(st.integers(-25, 10)), 3), tuple(draw(_PARTS) for _ in range(count)))
        for k in range(draw(st.integers(1, 4)))
    )
    return steps, conditions, draw(st.integers(1, 4)), draw(st.booleans())


def _every(steps: Steps, conditions: tuple[Condition, ...], most: int, *, odd: bool) -> Fraction | None:
    costs = [
        steps.cost(moves)
        for moves in product(*(range(-down, up + 1) for down, up in zip(steps.down, steps.up, strict=True)))
        if sum(move != 0 for move in moves) <= most
        and all(one.left(moves) >= 0 for one in conditions)
        and not (odd and sum(moves) % 2)
    ]
    return min(costs, default=None)


@given(searches())
@settings(max_examples=150)
def test_nothing_is_cheaper_than_what_is_found(asked: tuple[Steps, tuple[Condition, ...], int, bool]) -> None:
    steps, conditions, most, odd = asked
    found = WholeSearch(steps, conditions, most, lambda moves: not (odd and sum(moves) % 2)).found()
    best = _every(steps, conditions, most, odd=odd)
    assert best == (None if found is None else steps.cost(found))
    if found is not None:
        assert all(one.left(found) >= 0 for one in conditions)
        assert sum(move != 0 for move in found) <= most
        assert all(-down <= move <= up for move, down, up in zip(found, steps.down, steps.up, strict=True))


@given(searches())
@settings(max_examples=40)
def test_the_solver_finds_what_costs_as_little(asked: tuple[Steps, tuple[Condition, ...], int, bool]) -> None:
    pytest.importorskip("highspy")
    steps, conditions, most, _ = asked
    found = solved(steps, conditions, most, lambda _: True)
    best = _every(steps, conditions, most, odd=False)
    assert (best is None) == (found is None)
    if found is not None and best is not None:
        assert all(one.left(found) >= 0 for one in conditions)
        # the solver is as exact as its tolerance, the conditions are exact
        assert abs(steps.cost(found) - best) <= Fraction(1, 10**4)


def test_what_the_check_refuses_is_taken_out_of_the_solver() -> None:
    pytest.importorskip("highspy")
    steps = Steps((0, 0), (5, 5), (Fraction(0),) * 2, Fraction(1))
    conditions = (Condition("sum", Fraction(-3), (Fraction(1), Fraction(1))),)
    found = solved(steps, conditions, 2, lambda moves: moves[0] == 2)
    assert found == (2, 1)
    with pytest.raises(TooManyError):
        solved(Steps((0,) * 3, (500,) * 3, (Fraction(0),) * 3, Fraction(1)), (), 3, lambda _: False)


def test_a_linear_program_by_hand() -> None:
    """Minimise 2x + 3y with x + y >= 4 and x <= 3: x = 3, y = 1, 9."""
    one = Fraction(1)
    found = cheapest(
        [Fraction(2), Fraction(3)], [AtLeast((one, one), Fraction(4)), AtLeast((-one, Fraction(0)), Fraction(-3))]
    )
    assert found == (Fraction(9), (Fraction(3), Fraction(1)))
    assert cheapest([one], [AtLeast((one,), Fraction(2)), AtLeast((-one,), Fraction(-1))]) is None
