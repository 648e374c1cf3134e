"""Rounding worked by hand, minimum weights of USP <41>, errors of Directive 76/211/EEC, Shapley values by hand."""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations

import pytest

from formula_vcs.batches.batch_cost import three_ways
from formula_vcs.batches.pack_fill import batch_for, fill, overfill_needed, tolerable_error
from formula_vcs.figures.weighing import WeighableBatch, WeighingBalance, WeighLine, minimum_weight, weigh
from formula_vcs.figures.whole_divisions import Item, add_up

F = Fraction


@pytest.mark.parametrize(
    ("division", "least"),
    [
        # USP General Chapter <41>, 2019: the lowest possible minimum weight is 820 d; first four rows from its text
        ("0.01 mg", "8.2 mg"), ("0.1 mg", "82 mg"), ("1 mg", "820 mg"), ("10 mg", "8.2 g"),
        # the same arithmetic further up
        ("100 mg", "82 g"), ("1000 mg", "820 g"),
    ],
)  # fmt: skip
def test_the_lowest_minimum_weight_of_usp_41(division: str, least: str) -> None:
    mg = F(division.split(maxsplit=1)[0])
    value, unit = least.split()

    assert F(value) * (1000 if unit == "g" else 1) == minimum_weight(F(0), mg)


def test_a_repeatability_over_0_41_d_counts_itself() -> None:
    """USP <41>: 2 s / m_min is at most 0.10 %, so s = 5 mg asks for 10 g."""
    assert F("10000") == minimum_weight(F(5), F(10))
    assert 2 * F(5) / F("10000") == F("0.001")


def made(shares: list[str], size: str, *divisions: str) -> list[Fraction]:
    """Give targets in g for shares in % of a size in kg; divisions in g, the last one for all lines that are left."""
    steps = [*divisions, *[divisions[-1]] * (len(shares) - len(divisions))]
    found = add_up([Item(F(pct) / 100, F(g) / 1000) for pct, g in zip(shares, steps, strict=True)], F(size))
    assert found is not None
    return [mass * 1000 for mass in found]


def test_thirds_by_hand() -> None:
    """1 kg in three equal parts by the gram: 333.3 each, one gram is left, a tie goes to the first."""
    assert [334, 333, 333] == [mass * 1000 for mass in add_up([Item(F(1, 3), F("0.001"))] * 3, F(1)) or ()]


def test_largest_remainder_by_hand() -> None:
    """100 g by the gram: 47.3, 30.4, 22.3 have 47, 30, 22; the gram that is left goes to .4."""
    assert [47, 31, 22] == made(["47.3", "30.4", "22.3"], "0.1", "1")


def test_a_tie_goes_to_the_larger_mass_by_hand() -> None:
    """100 g by the gram: 20.5, 49.5 and 30 leave one gram for two halves: the larger one has it."""
    assert [20, 50, 30] == made(["20.5", "49.5", "30"], "0.1", "1")


def test_a_batch_that_is_no_multiple_by_hand() -> None:
    """25.003 kg by 5 g is 25.005 kg: 5 % are 1.25025, so 1.25, and 23.755 are left."""
    assert [23755, 1250] == made(["95", "5"], "25.003", "5")


def test_finer_lines_make_up_for_a_coarse_one_by_hand() -> None:
    """10 kg: 60.03 % by 20 g are 6.003 kg, so 6.00; 3 g go to lines by 5 g and 1 g.

    29.97 % by 5 g are 2.997, so 2.995 or 3.000; 10 % by 1 g are 1.000, which is exact.  6.00 + 3.00 + 1.00 are 10 kg,
    and nothing exact has moved.
    """
    assert [6000, 3000, 1000] == made(["60.03", "29.97", "10"], "10", "20", "5", "1")


def test_an_exact_line_gives_a_division_where_nothing_else_can_by_hand() -> None:
    """10 kg: 60.05 % by 10 g are 6.005 kg, so 6.00 or 6.01; 24.95 % by 5 g are 2.495 and 15 % 1.500, both exact.

    Either way 5 g are left.  6.01 costs the division of 2.495, the larger of the two exact lines: 2.490.
    """
    assert [6010, 2490, 1500] == made(["60.05", "24.95", "15"], "10", "10", "5")


def test_two_balances_that_cannot_meet_by_hand() -> None:
    """10 kg, 73.333 % by 20 g, the rest by 1 g: 7.32 and 7.34 kg leave 2.680 and 2.660 kg, and 2.6667 are wanted.

    With 7.34 the rest is 26.667 % of the size within 1 g from 10.008 kg on (2.66883, so 2.668); with 7.32 up to
    9.983 kg (2.66217, so 2.663), which is further away.
    """
    coarse, fine = WeighingBalance("c", "", F("0.02")), WeighingBalance("f", "", F("0.001"), F(3))
    found = weigh([WeighLine("A/water", F("0.73333")), WeighLine("A/oil", F("0.26667"))], F(10), [coarse, fine])

    assert isinstance(found, WeighableBatch)
    assert [F("7.34"), F("2.668")] == [line.target for line in found.lines]
    assert F("10.008") == found.size


def test_what_lies_under_the_minimum_weight_is_refused_with_a_size_that_works() -> None:
    """0.1 % of 5 kg are 5 g; a balance from 10 g wants a batch of 10 kg."""
    balance = WeighingBalance("b", "", F("0.00001"), None, F("0.01"))
    lines = [WeighLine("A/water", F("0.999")), WeighLine("A/gum", F("0.001"))]
    found = weigh(lines, F(5), [balance])

    assert isinstance(found, list)
    assert [("A/gum", F(10))] == [(refusal.line.key, refusal.batch) for refusal in found]
    assert isinstance(weigh(lines, F(10), [balance]), WeighableBatch)


def test_what_would_round_to_nothing_is_refused() -> None:
    balance = WeighingBalance("b", "", F("0.005"))
    found = weigh([WeighLine("A/water", F("0.9999")), WeighLine("A/dye", F("0.0001"))], F(10), [balance])

    assert isinstance(found, list)
    assert "would round to nothing" in found[0].why


def test_a_gap_between_two_balances_is_seen() -> None:
    """7 kg: the fine balance weighs 4 to 5, the coarse one from 10; the smallest batch is at 10 kg, not below."""
    fine, coarse = WeighingBalance("f", "", F("0.001"), F(5), F(4)), WeighingBalance("c", "", F("0.01"), None, F(10))
    found = weigh([WeighLine("A/water", F(1))], F(7), [fine, coarse])

    assert isinstance(found, list)
    assert F(10) == found[0].batch


def test_what_a_coarse_balance_may_not_weigh_a_finer_one_does_in_loads() -> None:
    """7 kg: the coarse balance weighs from 10, the fine one holds 5: two loads of 3.5 kg."""
    fine, coarse = WeighingBalance("f", "", F("0.001"), F(5)), WeighingBalance("c", "", F("0.01"), None, F(10))
    found = weigh([WeighLine("A/water", F(1))], F(7), [fine, coarse])

    assert isinstance(found, WeighableBatch)
    assert [("f", F("3.5"))] * 2 == [(line.balance and line.balance.id, line.target) for line in found.lines]


@pytest.mark.parametrize(
    ("tolerance", "loads"),
    [
        # a floor balance by 100 g: 0.41 of a division twice is 82 g, which is 1 % of 8.2 kg and 0.1 % of 82 kg
        ("0.01", [("floor", F(40))]),
        ("0.001", [("bench", F(20)), ("bench", F(20))]),
    ],
)
def test_a_line_is_judged_by_its_own_tolerance(tolerance: str, loads: list[tuple[str, Fraction]]) -> None:
    """40 kg of glycerin: USP <41> would want 82 kg on the floor balance; the bench balance holds 30 kg."""
    floor = WeighingBalance("floor", "", F("0.1"), F(300), spread=F("0.02"))
    bench = WeighingBalance("bench", "", F("0.001"), F(30), spread=F("0.0005"))
    lines = [
        WeighLine("A/water", F("0.92"), rest=True, tolerance=F("0.01")),
        WeighLine("A/g", F("0.08"), tolerance=F(tolerance)),
    ]
    found = weigh(lines, F(500), [floor, bench])

    assert isinstance(found, WeighableBatch)
    assert loads == [(line.balance.id, line.target) for line in found.lines if line.key == "A/g" and line.balance]
    assert F(500) == found.size


def test_round_lines_stay_round_and_the_charge_that_fills_up_takes_the_rest() -> None:
    """100 kg of mouthwash: water by 100 g, 8 % glycerin by 1 g, 0.07 % by 0.01 g; 91.93 kg are 91.9 and 30 g."""
    floor = WeighingBalance("floor", "", F("0.1"), F(300), spread=F("0.02"))
    bench = WeighingBalance("bench", "", F("0.001"), F(30), spread=F("0.0005"))
    fine = WeighingBalance("fine", "", F("0.00001"), F("0.6"), spread=F("0.000005"))
    shares = {"A/water": F("0.9193"), "A/glycerin": F("0.08"), "A/cpc": F("0.0007")}
    lines = [WeighLine(key, share, None, F("0.01"), key == "A/water") for key, share in shares.items()]
    found = weigh(lines, F(100), [floor, bench, fine])

    assert isinstance(found, WeighableBatch)
    assert F(100) == found.size
    assert [
        ("A/water", "floor", F("91.9")), ("A/water", "bench", F("0.030")),
        ("A/glycerin", "bench", F("8.000")), ("A/cpc", "fine", F("0.07")),
    ] == [(line.key, line.balance.id, line.target) for line in found.lines if line.balance]  # fmt: skip


def test_a_charge_that_fills_up_and_is_small_does_not_take_more_than_its_tolerance() -> None:
    """100 g: four lines of 24.75 % become 25 g and leave nothing for the 1 % that fills up: shared out."""
    balance = WeighingBalance("b", "", F("0.001"))
    lines = [WeighLine(f"A/{n}", F("0.099") / 4 * F(10, 1), tolerance=F("0.01")) for n in range(4)]
    found = weigh([*lines, WeighLine("A/water", F("0.01"), tolerance=F("0.01"), rest=True)], F("0.1"), [balance])

    assert isinstance(found, WeighableBatch)
    assert F("0.1") == found.size
    assert all(abs(line.target - line.share * F("0.1")) <= balance.division for line in found.lines)


def test_what_no_balance_can_hold_is_weighed_in_equal_loads() -> None:
    found = weigh([WeighLine("A/water", F(1))], F(155), [WeighingBalance("b", "", F("0.02"), F(60))])

    assert isinstance(found, WeighableBatch)
    assert [F("51.68"), F("51.66"), F("51.66")] == [line.target for line in found.lines]


@pytest.mark.parametrize(
    ("nominal", "error"),
    [
        # Directive 76/211/EEC, Annex I, 2.4, at both ends of each row; 9 % of 50 and 4.5 meet, as the rows do
        ("5", "0.5"), ("50", "4.5"), ("75", "4.5"), ("100", "4.5"), ("150", "6.8"), ("200", "9"), ("250", "9"),
        ("300", "9"), ("400", "12"), ("500", "15"), ("750", "15"), ("1000", "15"), ("2000", "30"), ("10000", "150"),
        # % are rounded up to a tenth (2.5; from memory): 9 % of 8 are 0.72
        ("8", "0.8"),
    ],
)  # fmt: skip
def test_tolerable_negative_errors_of_the_directive(nominal: str, error: str) -> None:
    assert F(error) == tolerable_error(F(nominal))


@pytest.mark.parametrize("nominal", ["4.9", "10001"])
def test_outside_the_directive_there_is_no_error(nominal: str) -> None:
    assert tolerable_error(F(nominal)) is None


def test_packs_of_a_batch_by_hand() -> None:
    """25 kg at 97 % are 24.25 kg; 75 mL at 0.99 g/mL and 0.8 % over are 74.844 g: 324 packs."""
    found = fill(F(25), F("0.000075"), "mL", F(990), F("0.008"), F("0.97"))

    assert 324 == found.packs
    assert F("75.6") == found.mean
    assert (F("4.5"), F("70.5"), F(66)) == (found.error, found.short, found.never)
    assert found.left == F("24.25") - 324 * F("0.074844")


def test_a_batch_for_packs_fills_them() -> None:
    size = batch_for(2400, F("0.07425"), F("0.008"), F("0.97"))

    assert fill(size, F("0.000075"), "mL", F(990), F("0.008"), F("0.97")).packs == 2400


def test_overfill_by_hand() -> None:
    """75 mL with s = 3 mL: 1.96 s - 4.5 = 1.38; 3.72 s - 9 = 2.16 mL over: 2.88 %."""
    assert F("2.16") / 75 == overfill_needed(F(75), F(3))
    assert F(0) == overfill_needed(F(75), F(1))
    assert overfill_needed(F(2), F(1)) is None


def test_two_factors_are_bennet() -> None:
    """Bennet 1920: the change of quantity at the mean price, and of price at the mean quantity."""
    quantity, price, rest = three_ways((F(10), F(3), F(1)), (F(12), F(5), F(1)))

    assert (F(2) * 4, F(2) * 11, F(0)) == (quantity, price, rest)


def test_three_factors_by_hand() -> None:
    """From 2 x 3 / 1 to 4 x 5 / 2, all six orders written out."""
    before, after = (F(2), F(3), F(1)), (F(4), F(5), F(2))
    sums = [F(0)] * 3
    for order in permutations(range(3)):
        state = list(before)
        for player in order:
            old = state[0] * state[1] / state[2]
            state[player] = after[player]
            sums[player] += state[0] * state[1] / state[2] - old

    found = three_ways(before, after)
    assert tuple(one / 6 for one in sums) == found
    assert F(4) * 5 / 2 - F(2) * 3 == sum(found)


def test_a_factor_that_did_not_change_has_no_part() -> None:
    assert three_ways((F(2), F(3), F(7)), (F(2), F(4), F(7))) == (F(0), F(2, 7), F(0))
