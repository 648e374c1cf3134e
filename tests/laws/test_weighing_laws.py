"""Targets add up to the batch and lie within one division of exact, for any size, balances and recipe."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from math import ceil, floor

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from formula_vcs.figures.weighing import WeighableBatch, WeighingBalance, WeighLine, choose, weigh
from formula_vcs.figures.whole_divisions import Item, add_up, common, nearest

# Scale intervals are 1, 2 or 5 times a power of ten (OIML R 76-1, 4.2.2.1; from memory).
DIVISIONS = st.builds(
    lambda digit, power: Fraction(digit) * Fraction(10) ** power, st.sampled_from((1, 2, 5)), st.integers(-7, 0)
)
SHARES = st.lists(st.integers(1, 10**6), min_size=1, max_size=30).map(
    lambda parts: [Fraction(part, sum(parts)) for part in parts]
)
SIZES = st.fractions(min_value=Fraction(1, 100), max_value=Fraction(5000), max_denominator=10**6)


def lines(shares: list[Fraction]) -> list[WeighLine]:
    return [WeighLine(f"A/{number}", share) for number, share in enumerate(shares)]


@st.composite
def scales(draw: st.DrawFn) -> list[WeighingBalance]:
    """Balances as a house has them: the coarser the more it holds; the last one holds everything."""
    divisions = sorted(draw(st.sets(DIVISIONS, min_size=1, max_size=5)))
    found = []
    for number, division in enumerate(divisions):
        counts = draw(st.sampled_from((1000, 3000, 6000, 30000, 60000)))
        last = number == len(divisions) - 1
        found.append(WeighingBalance(f"b{number}", "", division, None if last else division * counts))
    return found


def check(found: WeighableBatch) -> None:
    assert sum(line.target for line in found.lines) == found.size
    for line in found.lines:
        assert line.balance is not None
        division = line.balance.division
        assert (line.target / division).denominator == 1
        assert abs(line.target - line.share * found.size) <= division


@given(SHARES, SIZES, DIVISIONS)
def test_on_one_balance_the_batch_is_the_nearest_multiple(
    shares: list[Fraction], size: Fraction, division: Fraction
) -> None:
    """Where no line is lighter than a division: keeping such lines is another law's."""
    size = max(size, 2 * division / min(shares))
    total = nearest(size, division)
    made = add_up([Item(share, division) for share in shares], size)

    assert made is not None
    assert total == sum(made)
    exact = [share * total for share in shares]
    assert all(abs(mass - value) <= division for mass, value in zip(made, exact, strict=True))


def choices(items: list[Item], size: Fraction) -> Iterator[tuple[int, Fraction]]:
    """Try every choice within one division of exact: the lines that are off by a whole one, and the squares."""
    exact = [item.share * size / item.division for item in items]
    around = [range(max(ceil(value) - 1, 1), floor(value) + 2) for value in exact]
    for counts in product(*around):
        if size == sum(count * item.division for count, item in zip(counts, items, strict=True)):
            off = [abs(count - value) for count, value in zip(counts, exact, strict=True)]
            yield sum(one == 1 for one in off), sum((one**2 for one in off), Fraction(0))


@st.composite
def few(draw: st.DrawFn) -> tuple[list[Item], Fraction]:
    """A few lines of several divisions, none of them light on its balance, and a size that is mostly a round one."""
    size = Fraction(draw(st.integers(20, 400))) / draw(st.sampled_from((1, 1, 1, 7)))
    parts = draw(st.lists(st.one_of(st.integers(20, 400), st.sampled_from((100, 200))), min_size=1, max_size=6))
    shares = [Fraction(part, sum(parts)) for part in parts]
    steps = [Fraction(1, n) for n in draw(st.lists(st.sampled_from((1, 2, 4, 5, 10, 20, 50)), min_size=1, max_size=3))]
    able = [[step for step in steps if share * size > 2 * step] for share in shares]
    assume(all(able))
    return [Item(share, draw(st.sampled_from(mine))) for share, mine in zip(shares, able, strict=True)], size


_FAR = 40


@given(case=few(), at_least=st.booleans())
@settings(max_examples=200, suppress_health_check=[HealthCheck.filter_too_much])
def test_it_adds_up_exactly_wherever_any_choice_does(case: tuple[list[Item], Fraction], *, at_least: bool) -> None:
    """Against every choice there is: the asked size if one adds up to it, else the nearest that has one; the best."""
    items, size = case
    step = common(item.division for item in items)
    found = add_up(items, size, at_least=at_least)

    assert found is not None
    total = sum(found, Fraction(0))
    assert not at_least or total >= size
    off = [abs(mass - item.share * total) / item.division for mass, item in zip(found, items, strict=True)]
    assert min(choices(items, total)) == (sum(one == 1 for one in off), sum(one**2 for one in off))
    # no size in between has any
    first = nearest(size, step)
    nearer = [first + sign * n * step for n in range(_FAR) for sign in (1, -1)]
    able = [other for other in nearer if abs(other - size) < abs(total - size) and (not at_least or other >= size)]
    assert [] == [other for other in able if [*choices(items, other)]]


@given(SHARES, SIZES, scales())
def test_on_several_balances_it_adds_up_and_nothing_is_further_off_than_a_division(
    shares: list[Fraction], size: Fraction, balances: list[WeighingBalance]
) -> None:
    found = weigh(lines(shares), size, balances)

    if isinstance(found, WeighableBatch):
        check(found)
    else:
        assert found
        assert all(refusal.batch is not None or refusal.why for refusal in found)


@given(SHARES, SIZES)
def test_without_a_balance_it_adds_up_too(shares: list[Fraction], size: Fraction) -> None:
    found = weigh(lines(shares), size, [])

    assert isinstance(found, WeighableBatch)
    check(found)
    assert not found.stated
    smallest = min(line.share for line in found.lines) * size
    assert found.lines[0].balance is not None
    # four digits of the smallest line, as is said
    assert 1000 <= smallest / found.lines[0].balance.division < 10000


@given(SIZES, scales())
def test_the_finest_that_can_hold_it_is_chosen(mass: Fraction, balances: list[WeighingBalance]) -> None:
    found = choose(mass, balances)

    assert found is not None
    assert found.holds(mass)
    assert [] == [other for other in balances if other.division < found.division and other.holds(mass)]
