"""Targets add up to the batch and lie within one division of exact, for any size, balances and recipe."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.figures.weighing import Balance, Line, Weighing, choose, nearest, settle, share_out, weigh

# Scale intervals are 1, 2 or 5 times a power of ten (OIML R 76-1, 4.2.2.1; from memory).
DIVISIONS = st.builds(
    lambda digit, power: Fraction(digit) * Fraction(10) ** power, st.sampled_from((1, 2, 5)), st.integers(-7, 0)
)
SHARES = st.lists(st.integers(1, 10**6), min_size=1, max_size=30).map(
    lambda parts: [Fraction(part, sum(parts)) for part in parts]
)
SIZES = st.fractions(min_value=Fraction(1, 100), max_value=Fraction(5000), max_denominator=10**6)


def lines(shares: list[Fraction]) -> list[Line]:
    return [Line(f"A/{number}", share) for number, share in enumerate(shares)]


@st.composite
def scales(draw: st.DrawFn) -> list[Balance]:
    """Balances as a house has them: the coarser the more it holds; the last one holds everything."""
    divisions = sorted(draw(st.sets(DIVISIONS, min_size=1, max_size=5)))
    found = []
    for number, division in enumerate(divisions):
        counts = draw(st.sampled_from((1000, 3000, 6000, 30000, 60000)))
        last = number == len(divisions) - 1
        found.append(Balance(f"b{number}", "", division, None if last else division * counts))
    return found


def check(found: Weighing) -> None:
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
    """Targets may round to nothing here: that refusal is another law's."""
    made = settle([Line(line.key, line.share, balance=Balance("b", "", division)) for line in lines(shares)], size)

    assert nearest(size, division) == sum(line.target for line in made)
    exact = [line.share * nearest(size, division) for line in made]
    assert all(abs(line.target - value) < division for line, value in zip(made, exact, strict=True))


@given(SHARES, SIZES, scales())
def test_on_several_balances_it_adds_up_and_nothing_is_further_off_than_a_division(
    shares: list[Fraction], size: Fraction, balances: list[Balance]
) -> None:
    found = weigh(lines(shares), size, balances)

    if isinstance(found, Weighing):
        check(found)
    else:
        assert found
        assert all(refusal.batch is not None or refusal.why for refusal in found)


@given(SHARES, SIZES)
def test_without_a_balance_it_adds_up_too(shares: list[Fraction], size: Fraction) -> None:
    found = weigh(lines(shares), size, [])

    assert isinstance(found, Weighing)
    check(found)
    assert not found.stated
    smallest = min(line.share for line in found.lines) * size
    assert found.lines[0].balance is not None
    # four digits of the smallest line, as is said
    assert 1000 <= smallest / found.lines[0].balance.division < 10000


@given(st.lists(SIZES, min_size=1, max_size=20), DIVISIONS)
def test_what_is_shared_out_adds_up(exact: list[Fraction], division: Fraction) -> None:
    total = nearest(sum(exact, Fraction(0)), division)
    found = share_out(exact, total, division)

    assert total == sum(found)
    assert all(abs(one - value) < division for one, value in zip(found, exact, strict=True))


@given(SIZES, scales())
def test_the_finest_that_can_hold_it_is_chosen(mass: Fraction, balances: list[Balance]) -> None:
    found = choose(mass, balances)

    assert found is not None
    assert found.holds(mass)
    assert [] == [other for other in balances if other.division < found.division and other.holds(mass)]
