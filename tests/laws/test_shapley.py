"""Shares against Shapley's value written out here: every order of the changes, one after the other, in fractions."""

from __future__ import annotations

import copy
import random
from collections.abc import Callable
from fractions import Fraction
from itertools import permutations
from math import factorial

import pytest
from hypothesis import given, note, settings
from hypothesis import strategies as st

from formula_vcs.diff.apply import apply
from formula_vcs.diff.diff import diff
from formula_vcs.diff.effects import effects
from formula_vcs.diff.shapley import MANY, MOST_EXACT, TOGETHER, attribute
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import FIGURES
from tests.laws import strategies as laws
from tests.laws.strategies import DAY, RECIPE, Book, Draw, formula

TERMS = Terms(DAY)
Game = Callable[[frozenset[int]], Fraction]
# everything that a chemist, a buyer or a supplier may do at once
MOVES: tuple[Callable[[Draw, Book], str], ...] = (
    laws.removed, laws.added, laws.amount, laws.amount, laws.moved, laws.grade_swap, laws.split, laws.joined,
    laws.price, laws.origin, laws.premix, laws.default, laws.step_changed, laws.step_moved, laws.step_added, laws.spec,
    laws.claim, laws.header, laws.handling,
)  # fmt: skip


def over_all_orders(count: int, game: Game) -> list[Fraction]:
    """Average what each adds over all orders."""
    means = [Fraction(0)] * count
    for order in permutations(range(count)):
        for position, i in enumerate(order):
            less, more = (frozenset(order[: position + after]) for after in (0, 1))
            means[i] += (game(more) - game(less)) / factorial(count)
    return means


@st.composite
def pairs(draw: Draw) -> tuple[Book, Book]:
    """Build a workspace with prices, breaks and a premix in the recipe, and the same with some of it moved."""
    old = draw(laws.books())
    for name in ("water", "glycerin", "oil", "acid", "gum-clear", "gum-dark", "glycerin-86", "red"):
        if f"ingredients/{name}.toml" in old:
            cost = f"{draw(st.integers(1, 99))} EUR/kg"
            old[f"ingredients/{name}.toml"]["price"] = [{"cost": cost}, {"cost": "3 EUR/kg", "from": "9 kg"}]
            old[f"ingredients/{name}.toml"].setdefault("density", f"{draw(st.integers(80, 140))} g/cL")
    new = copy.deepcopy(old)
    for edit in draw(st.lists(st.sampled_from(MOVES), min_size=2, max_size=6)):
        trial = copy.deepcopy(new)
        try:
            edit(draw, trial)
        except (laws.NotHere, KeyError, ValueError):
            continue
        new = trial
    return old, new


@settings(max_examples=25)
@given(pairs())
def test_shares_of_every_figure_are_the_mean_over_all_orders(pair: tuple[Book, Book]) -> None:
    """And add up exactly, also where no mean is there because a figure in between lacks data."""
    old, new = map(formula, pair)
    changes = [change for change in diff(old, new) if not change.derived]
    if len(changes) > 6:
        return
    note("\n".join(change.id for change in changes))
    known: dict[tuple[str, frozenset[int]], Fraction | None] = {}
    sums: dict[frozenset[int], Breakdown] = {}

    def worth(name: str, chosen: frozenset[int]) -> Fraction | None:
        if (name, chosen) not in known:
            sums.setdefault(chosen, Breakdown(apply(old, [changes[i] for i in chosen])))
            known[name, chosen] = FIGURES[name](sums[chosen], TERMS).value
        return known[name, chosen]

    for effect in effects(old, new, changes, TERMS):
        if not effect.shares:
            continue
        assert effect.difference == sum((share.value for share in effect.shares), Fraction(0)), effect.figure
        everywhere = [
            worth(effect.figure, frozenset(i for i in range(len(changes)) if number >> i & 1))
            for number in range(2 ** len(changes))
        ]
        if None in everywhere:
            continue

        def game(chosen: frozenset[int], name: str = effect.figure) -> Fraction:
            found = worth(name, chosen)
            assert found is not None
            return found

        means = over_all_orders(len(changes), game)
        note(effect.figure)
        assert not effect.evened
        assert {change.id: mean for change, mean in zip(changes, means, strict=True) if mean} == {
            share.change: share.value for share in effect.shares
        }


@settings(max_examples=60)
@given(st.integers(1, 6), st.integers(0, 2**32), st.sampled_from((1, 2, 10)))
def test_any_game_is_shared_as_its_orders_say(count: int, seed: int, most: int) -> None:
    """A game has no structure to lean on: who does nothing first and last may still do something between."""
    chance = random.Random(seed)
    worths = [Fraction(chance.randint(-most, most), chance.randint(1, 3)) for _ in range(2**count)]

    def game(chosen: frozenset[int]) -> Fraction:
        return worths[sum(1 << i for i in chosen)]

    found = attribute(count, game)
    assert not found.evened
    assert found.values == over_all_orders(count, game)


def test_who_does_nothing_first_and_last_may_do_something_between() -> None:
    """Only the first two together, without the third, are worth anything: what one goal gives, the other takes."""

    def game(chosen: frozenset[int]) -> Fraction:
        return Fraction(chosen == {0, 1})

    assert [Fraction(1, 6), Fraction(1, 6), Fraction(-1, 3)] == over_all_orders(3, game) == attribute(3, game).values


@settings(max_examples=40)
@given(st.integers(MOST_EXACT + 1, 16), st.integers(0, 2**32), st.integers(1, MOST_EXACT))
def test_above_the_limit_the_small_ones_are_taken_as_one(count: int, seed: int, most: int) -> None:
    """The shares still add up exactly, equals still get equal shares, and it is said."""
    chance = random.Random(seed)
    sizes = [Fraction(chance.randint(1, 1000)) for _ in range(count)]
    sizes[-1] = sizes[0]

    def game(chosen: frozenset[int]) -> Fraction:
        return 1 / (1 + sum((sizes[i] for i in chosen), Fraction(0)))

    found = attribute(count, game, most=most)
    assert found.evened == MANY
    assert found.values is not None
    assert sum(found.values, Fraction(0)) == game(frozenset(range(count))) - game(frozenset())


def test_the_largest_ones_keep_their_own_shares_above_the_limit() -> None:
    """One change of size and eleven small ones: grouping the small ones changes nothing for the large one."""

    def game(chosen: frozenset[int]) -> Fraction:
        return Fraction(100 * (0 in chosen) + len(chosen - {0})) ** 2

    found = attribute(12, game)
    assert found.values is not None
    # of a square each pair adds 2ab, half to each: 100^2 + 100 x 11, and 1 + 100 + 10 for each small one
    assert abs(found.values[0] - 11100) < 5
    assert all(abs(value - 111) < 2 for value in found.values[1:])
    assert found.evened == MANY


def test_what_counts_only_together_shares_evenly_beside_exact_shares() -> None:
    """A currency and its price have no worth one without the other; a third change has its own share."""

    def game(chosen: frozenset[int]) -> Fraction | None:
        if (0 in chosen) != (1 in chosen):
            return None
        return Fraction(2 + 3 * (0 in chosen)) * (1 + (2 in chosen))

    found = attribute(3, game)
    # 2 -> 10: of the two players "both of them" and the third, 4.5 and 3.5
    assert found.values == [Fraction(9, 4), Fraction(9, 4), Fraction(7, 2)]
    assert found.evened == TOGETHER


@pytest.mark.parametrize("count", [7, 10])
def test_many_odd_denominators_do_not_make_shares_of_thousands_of_digits(count: int) -> None:
    """The density of ten changes has a thousand denominators; both ends alone decide the sum, to the last digit."""

    def game(chosen: frozenset[int]) -> Fraction:
        return 1 / (Fraction(1009, 7919) + sum((Fraction(1, 7907 - 30 * i) for i in chosen), Fraction(0)))

    found = attribute(count, game)
    assert found.values is not None
    assert sum(found.values, Fraction(0)) == game(frozenset(range(count))) - game(frozenset())
    assert all(len(str(value)) < 800 for value in found.values)
    if count == 7:
        exact = over_all_orders(count, game)
        assert all(abs(one - other) < Fraction(1, 10**38) for one, other in zip(found.values, exact, strict=True))


def test_ten_changes_in_a_recipe_of_a_hundred_lines_are_exact_and_printed() -> None:
    """Each material with a density of its own; json writes every share, and they add up as printed."""
    from formula_vcs.words.numbers import exact_text

    book: Book = {
        "workspace.toml": {"title": "Shed"},
        f"{RECIPE}.toml": {"title": "Many", "phase": {"A": {"charge": {"water": "to 100"}}}},
        "ingredients/water.toml": {"title": "W", "density": "1 g/mL", "substances": {"Aqua": 100}},
    }
    for i in range(60):
        book[f"ingredients/m{i}.toml"] = {
            "title": f"M{i}", "density": f"1.{101 + 7 * i} g/mL", "substances": {f"Stuff {i}": 100},
        }  # fmt: skip
        book[f"{RECIPE}.toml"]["phase"]["A"]["charge"][f"m{i}"] = 1
    after = copy.deepcopy(book)
    for i in range(10):
        after[f"{RECIPE}.toml"]["phase"]["A"]["charge"][f"m{i}"] = 2
    old, new = formula(book), formula(after)
    (effect,) = effects(old, new, diff(old, new), TERMS, ("density",))

    assert not effect.evened
    printed = [Fraction(exact_text(share.value)) for share in effect.shares]
    assert 10 == len(printed)
    assert effect.difference == sum(printed, Fraction(0))
