"""What a kilogram and a pack cost."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.cost import choose, cost_per_kg
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.pack_cost import cost_per_pack
from formula_vcs.units.unit_reading import read_quantity
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
TERMS = Terms(datetime.date(2026, 6, 1))
HEAD = 'title = "Glycerin"\ndensity = "1.25 g/mL"\n[substances]\n"Glycerin" = 100\n'
LIST = HEAD + (
    '[[price]]\ncost = "4.00 EUR/kg"\nfrom = "5 kg"\n'
    '[[price]]\ncost = "3.00 EUR/kg"\nfrom = "25 kg"\n'
    '[[price]]\ncost = "3.50 EUR/kg"\nfrom = "25 kg"\nsince = 2026-05-01\n'
    '[[price]]\ncost = "9.00 EUR/kg"\nfrom = "25 kg"\nsince = 2026-07-01\n'
)


def figure(snapshot: Snapshot, of: Callable[[Breakdown, Terms], Figure], terms: Terms = TERMS) -> Figure:
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    return of(Breakdown(snapshot.formula(recipe)), terms)


def priced(price: str, day: datetime.date, needed: str | None, workspace: MakeWorkspace) -> Fraction | str:
    ingredient = workspace({"ingredients/glycerin.toml": price}).ingredient("glycerin")
    assert ingredient is not None
    chosen = choose(ingredient, day, read_quantity(needed, "mass").base if needed else None)
    return chosen if isinstance(chosen, str) else chosen.per_kg


def test_cost_is_the_mean_of_the_prices_by_share(workspace: MakeWorkspace) -> None:
    found = figure(workspace(), cost_per_kg)

    assert (Fraction("0.1095"), "EUR/kg", ()) == (found.value, found.unit, found.missing)  # .95 x .01 + .05 x 2.00


@pytest.mark.parametrize(
    ("day", "needed", "expected"),
    [
        ("2026-04-30", "30 kg", "3.00"),
        ("2026-05-01", "30 kg", "3.50"),  # in force from its own day
        ("2026-06-30", "30 kg", "3.50"),
        ("2026-07-01", "25 kg", "9.00"),  # the break itself is reached
        ("2026-07-01", "24.999 kg", "4.00"),
        ("2026-07-01", "1 kg", "4.00"),  # below the lowest break, at its price
        ("2026-07-01", None, "4.00"),
    ],
)
def test_a_price_is_chosen_by_day_and_quantity(
    day: str, needed: str | None, expected: str, workspace: MakeWorkspace
) -> None:
    assert Fraction(expected) == priced(LIST, datetime.date.fromisoformat(day), needed, workspace)


def test_a_price_not_yet_in_force_is_none(workspace: MakeWorkspace) -> None:
    text = HEAD + '[[price]]\ncost = "9.00 EUR/kg"\nsince = 2027-01-01\n'

    assert "no price in force on 2026-06-01" == priced(text, TERMS.day, "1 kg", workspace)


def test_a_price_below_the_lowest_break_is_said(workspace: MakeWorkspace) -> None:
    """A batch of 20 kg needs 1 kg of what is sold from 5 kg."""
    found = figure(
        workspace({"ingredients/glycerin.toml": LIST}), cost_per_kg, Terms(TERMS.day, read_quantity("20 kg", "mass"))
    )

    assert Fraction("0.2095") == found.value
    assert ("glycerin: priced at its lowest break, from 5 kg (less is needed)",) == found.basis


def test_the_batch_decides_the_break(workspace: MakeWorkspace) -> None:
    """The workspace's 100 kg need 5 kg; the recipe's own 1 t needs 50 kg."""
    cream = 'title = "Cream"\nbatch = "1 t"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5.00\n'
    small = figure(workspace({"ingredients/glycerin.toml": LIST}), cost_per_kg)
    large = figure(workspace({"ingredients/glycerin.toml": LIST, "cream.toml": cream}), cost_per_kg)

    assert (Fraction("0.2095"), Fraction("0.1845")) == (small.value, large.value)


def test_a_price_by_volume_is_taken_by_the_density(workspace: MakeWorkspace) -> None:
    text = HEAD + '[[price]]\ncost = "5.00 EUR/L"\nfrom = "4 L"\n'  # 1.25 kg/L: 4.00 EUR/kg, from 5 kg

    assert Fraction(4) == priced(text, TERMS.day, "5 kg", workspace)


def test_a_price_by_volume_without_a_density_is_missing(workspace: MakeWorkspace) -> None:
    text = HEAD.replace('density = "1.25 g/mL"\n', "") + '[[price]]\ncost = "5.00 EUR/L"\n'
    found = figure(workspace({"ingredients/glycerin.toml": text}), cost_per_kg)

    assert found.value is None
    assert ("glycerin: no density to turn a price by volume into one by mass",) == found.missing


def test_currencies_are_never_converted(workspace: MakeWorkspace) -> None:
    text = HEAD + '[[price]]\ncost = "2.00 USD/kg"\n'
    found = figure(workspace({"ingredients/glycerin.toml": text}), cost_per_kg)

    assert found.value is None
    assert len(found.missing) == 1
    assert "glycerin: priced in USD" in found.missing[0]


def test_a_missing_price_is_named_and_nothing_is_guessed(workspace: MakeWorkspace) -> None:
    found = figure(workspace({"ingredients/glycerin.toml": HEAD}), cost_per_kg)

    assert (None, ("glycerin: no price",)) == (found.value, found.missing)


def test_a_premix_with_a_price_of_its_own_is_bought(workspace: MakeWorkspace) -> None:
    files = {
        "half-made.toml": 'title = "Half"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 50\n',
        "ingredients/half.toml": 'title = "Half"\nrecipe = "half-made"\n',
        "cream.toml": 'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\nhalf = 10\n',
    }
    made = figure(workspace(files), cost_per_kg)
    files["ingredients/half.toml"] += '[[price]]\ncost = "7.00 EUR/kg"\n'
    bought = figure(workspace(files), cost_per_kg)

    assert (Fraction("0.1095"), Fraction("0.709")) == (made.value, bought.value)


@pytest.mark.parametrize(
    ("header", "spec", "expected", "basis"),
    [
        ('pack = "50 g"', "", Fraction("0.005475"), ""),
        # the middle of 0.9 to 1.1 is 1 g/mL
        ('pack = "50 mL"', '[spec]\ndensity = "0.9 to 1.1 g/mL"\n', Fraction("0.005475"), "density from the spec"),
        # 1 / (0.95 / 1 + 0.05 / 1.26) g/mL
        (
            'pack = "50 mL"',
            "",
            Fraction("0.005475") / (Fraction("0.95") + Fraction("0.05") / Fraction("1.26")),
            "estimate",
        ),
    ],
)
def test_a_pack_of_a_volume_says_by_which_density(
    header: str, spec: str, expected: Fraction, basis: str, workspace: MakeWorkspace
) -> None:
    cream = f'title = "Cream"\n{header}\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5.00\n{spec}'
    found = figure(workspace({"cream.toml": cream}), cost_per_pack)

    assert (expected, "EUR/pack") == (found.value, found.unit)
    assert basis in " ".join(found.basis)


def test_without_a_pack_there_is_no_cost_of_one(workspace: MakeWorkspace) -> None:
    assert ("the recipe states no pack",) == figure(workspace(), cost_per_pack).missing


def rated(*rates: str) -> dict[str, str]:
    """Glycerin at 2.00 USD/kg in a workspace that costs in EUR, with rates."""
    return {
        "workspace.toml": 'title = "Shed"\ncurrency = "EUR"\n' + "".join(f"[[rate]]\n{rate}\n" for rate in rates),
        "ingredients/glycerin.toml": HEAD + '[[price]]\ncost = "2.00 USD/kg"\n',
    }


MAY = 'of = "USD"\nis = "0.862 EUR"\nday = 2026-05-04'


@pytest.mark.parametrize(
    ("rates", "euro", "said"),
    [
        ([MAY], "0.862", "1 USD = 0.862 EUR, rate of 2026-05-04"),
        # the latest that is not after the day asked for, which is 2026-06-01
        ([MAY.replace("05-04", "06-02"), MAY.replace("0.862", "0.9").replace("05-04", "06-01"), MAY], "0.9",
         "1 USD = 0.9 EUR, rate of 2026-06-01"),
        (['of = "EUR"\nis = "1.25 USD"\nday = 2026-06-01', MAY], "0.8", "1 EUR = 1.25 USD, rate of 2026-06-01"),
    ],
)  # fmt: skip
def test_a_price_is_converted_at_the_rate_of_a_day(
    rates: list[str], euro: str, said: str, workspace: MakeWorkspace
) -> None:
    found = figure(workspace(rated(*rates)), cost_per_kg)

    assert Fraction("0.0095") + Fraction("0.05") * 2 * Fraction(euro) == found.value
    assert (("EUR/kg", ()), f"glycerin: converted at {said}") == ((found.unit, found.missing), found.basis[-1])


@pytest.mark.parametrize(
    ("rates", "why"),
    [
        ([], "workspace.toml has no [[rate]] of USD in EUR"),
        ([MAY.replace("USD", "GBP")], "workspace.toml has no [[rate]] of USD in EUR"),
        ([MAY.replace("05-04", "06-02")], "the first [[rate]] of USD in EUR is of 2026-06-02, after 2026-06-01"),
        ([MAY.replace("\nday = 2026-05-04", "")], "workspace.toml has no [[rate]] of USD in EUR"),  # of no day
    ],
)
def test_without_a_rate_of_the_day_nothing_is_converted(rates: list[str], why: str, workspace: MakeWorkspace) -> None:
    found = figure(workspace(rated(*rates)), cost_per_kg)

    assert (None, (f"glycerin: priced in USD, and {why}",)) == (found.value, found.missing)
