"""Bennet's split of a cost difference, worked by hand, through a diff of two real workspaces.

T. L. Bennet, J. R. Stat. Soc. 83 (1920) 455-462; W. E. Diewert, Am. J. Econ. Sociol. 64 (2005) 311-360 (text seen at
paperzz.com/doc/7777081): V1 - V0 = sum (q0 + q1)/2 (p1 - p0) + sum (p0 + p1)/2 (q1 - q0), without a residual.  With two
factors it is the Shapley value; with three, the effect of a on a b c is
da (b0 c0/3 + (b1 c0 + b0 c1)/6 + b1 c1/3) (J. W. Sun, Energy Economics 20 (1998) 85-100, from memory).
A new line has no old price: all of it is quantity, at its own price (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from itertools import permutations

import pytest

from formula_vcs.diff.diff import diff
from formula_vcs.diff.effects import Effect, effects
from formula_vcs.figures.figure import Terms
from formula_vcs.model.formula import Formula
from tests.published.helpers_workspace import DAY, formula, material

F = Fraction
Line = tuple[str, str]  # amount, price in EUR/kg


def bill(lines: Mapping[str, Line]) -> Formula:
    """Give a recipe of priced lines."""
    charges = [f"{name} = {amount}" for name, (amount, _) in lines.items()]
    text = "\n".join(['title = "x"', "[phase.A.charge]", *charges, ""])
    return formula(text, {name: priced(name, price) for name, (_, price) in lines.items()})


def cost(old: Mapping[str, Line], new: Mapping[str, Line]) -> Effect:
    """Give the effect on the cost of one kg of a change from one workspace to another."""
    before, after = bill(old), bill(new)
    found = effects(before, after, diff(before, after), Terms(DAY), ["cost_per_kg"])
    assert len(found) == 1
    assert sum((share.value for share in found[0].shares), F(0)) == found[0].difference
    assert not found[0].evened
    return found[0]


def priced(name: str, price: str) -> str:
    return material(name.title(), f'[[price]]\ncost = "{price} EUR/kg"')


def shares(effect: Effect, of: int = 1) -> dict[str, Fraction]:
    """Give the share of each change, for so many kg."""
    return {share.change: share.value * of for share in effect.shares}


def test_recipe_of_100_kg_by_hand() -> None:
    # 100 kg, EUR/kg: glycerin 4 -> 6 kg at 1.20 -> 1.50; water, the balance, 90 -> 88 at 0.01; oil 6 at 10 -> 11
    #   before 4.80 + 0.90 + 60 = 65.70; after 9.00 + 0.88 + 66 = 75.88; difference 10.18 EUR
    #   price:    glycerin (4 + 6)/2 x 0.30 = 1.50; oil 6 x 1 = 6.00
    #   quantity: glycerin (1.20 + 1.50)/2 x 2 = 2.70, water 0.01 x -2 = -0.02: against the balance 2.68
    found = cost(
        {"glycerin": ("4", "1.20"), "water": ('"to 100"', "0.01"), "oil": ("6", "10")},
        {"glycerin": ("6", "1.50"), "water": ('"to 100"', "0.01"), "oil": ("6", "11")},
    )
    assert (found.before.value, found.after.value) == (F("0.6570"), F("0.7588"))
    assert found.difference == F("0.1018")
    assert shares(found, of=100) == {
        "amount:phase/A/charge/glycerin": F("2.68"),
        "price:ingredient/glycerin/price": F("1.50"),
        "price:ingredient/oil/price": F("6.00"),
    }


def test_recipe_of_100_kg_without_a_balance() -> None:
    # The same with water written out: its line is a change of its own, 0.01 x -2 = -0.02, and glycerin keeps 2.70.
    found = cost(
        {"glycerin": ("4", "1.20"), "water": ("90", "0.01"), "oil": ("6", "10")},
        {"glycerin": ("6", "1.50"), "water": ("88", "0.01"), "oil": ("6", "11")},
    )
    assert shares(found, of=100) == {
        "amount:phase/A/charge/glycerin": F("2.70"),
        "amount:phase/A/charge/water": F("-0.02"),
        "price:ingredient/glycerin/price": F("1.50"),
        "price:ingredient/oil/price": F("6.00"),
    }


def test_elasticity_lesson_of_tacos() -> None:
    # AmosWEB, elasticity, lesson 11 page 14 (text seen at amosweb.com; the figures are its, the split is ours):
    # 5447 -> 6608 tacos at 2.49 -> 1.99 dollars.  Here 54.47 -> 66.08 % of a product, the rest free: a ten-thousandth.
    #   5447 x 2.49 = 13563.03; 6608 x 1.99 = 13149.92; difference -413.11
    #   price (5447 + 6608)/2 x -0.50 = -3013.75; quantity (2.49 + 1.99)/2 x 1161 = 2600.64
    found = cost(
        {"tacos": ("54.47", "2.49"), "water": ('"to 100"', "0")},
        {"tacos": ("66.08", "1.99"), "water": ('"to 100"', "0")},
    )
    assert found.before.value is not None
    assert found.before.value * 10000 == F("13563.03")
    assert shares(found, of=10000) == {
        "amount:phase/A/charge/tacos": F("2600.64"),
        "price:ingredient/tacos/price": F("-3013.75"),
    }


def test_new_line_is_all_quantity() -> None:
    # 0.1 kg at 5000 EUR/kg in 100 kg: 500 EUR, and no price effect; the water it displaces is free
    found = cost(
        {"water": ('"to 100"', "0")},
        {"water": ('"to 100"', "0"), "peptide": ("0.1", "5000")},
    )
    assert shares(found, of=100) == {"added:phase/A/charge/peptide": F(500)}


def test_removed_line_is_all_quantity() -> None:
    found = cost(
        {"water": ('"to 100"', "0.01"), "peptide": ("0.1", "5000")},
        {"water": ('"to 100"', "0.02")},
    )
    # By hand: -500 for the peptide, and 0.1 kg of water in its place at (0.01 + 0.02)/2 = 0.0015;
    # the price of water (99.9 + 100)/2 x 0.01 = 0.9995
    assert shares(found, of=100) == {
        "removed:phase/A/charge/peptide": F("-499.9985"),
        "price:ingredient/water/price": F("0.9995"),
    }


THREE = {"amount": (F(2), F(3)), "premix": (F(3), F(4)), "price": (F(5), F(6))}


def test_three_factors_by_hand_and_by_all_orders() -> None:
    # 2 x 3 x 5 = 30 -> 3 x 4 x 6 = 72, difference 42
    #   a: 15/3 + (4 x 5 + 3 x 6)/6 + 24/3 = 58/3
    #   b: 10/3 + (3 x 5 + 2 x 6)/6 + 18/3 = 83/6
    #   c:  6/3 + (3 x 3 + 2 x 4)/6 + 12/3 = 53/6;  together 116/6 + 83/6 + 53/6 = 42
    averages = dict.fromkeys(THREE, F(0))
    for order in permutations(THREE):
        now = {name: ends[0] for name, ends in THREE.items()}
        for name in order:
            before = now["amount"] * now["premix"] * now["price"]
            now[name] = THREE[name][1]
            averages[name] += (now["amount"] * now["premix"] * now["price"] - before) / 6
    assert averages == {"amount": F(58, 3), "premix": F(83, 6), "price": F(53, 6)}


def _through_a_premix(amount: str, share: str, price: str) -> tuple[str, dict[str, str], str]:
    recipe = f'title = "x"\n[phase.A.charge]\nextract-in-oil = {amount}\nwater = "to 100"\n'
    premix = f'title = "x"\nproduct = "premix"\n[phase.A.charge]\nextract = {share}\noil = "to 100"\n'
    files = {
        "extract-in-oil": 'title = "x"\nrecipe = "blend"\n',
        "extract": priced("extract", price),
        "oil": priced("oil", "0"),
        "water": priced("water", "0"),
    }
    return recipe, files, premix


def test_three_factors_through_a_premix() -> None:
    # 20 % of a premix with 30 % of an extract at 5 EUR/kg -> 30 % with 40 % at 6; everything else is free: as above, a
    # hundredth
    (old, files, blend), (new, new_files, new_blend) = (
        _through_a_premix("20", "30", "5"),
        _through_a_premix("30", "40", "6"),
    )
    before, after = formula(old, files, blend=blend), formula(new, new_files, blend=new_blend)
    found = effects(before, after, diff(before, after), Terms(DAY), ["cost_per_kg"])
    assert found[0].difference == F("0.42")
    assert shares(found[0], of=100) == {
        "amount:phase/A/charge/extract-in-oil": F(58, 3),
        "premix:premix/blend/phase/A/charge/extract": F(83, 6),
        "price:ingredient/extract/price": F(53, 6),
    }


def test_three_factors_twice_with_third_orders_that_cancel() -> None:
    # As above, and beside it a second premix, 2 x 3 x 6 = 36 -> 3 x 4 x 5 = 60:
    #   a: 18/3 + (4 x 6 + 3 x 5)/6 + 20/3 = 115/6;  b: 12/3 + (3 x 6 + 2 x 5)/6 + 15/3 = 41/3;
    #   c: -(6/3 + (3 x 3 + 2 x 4)/6 + 12/3) = -53/6;  together 115/6 + 82/6 - 53/6 = 24
    def workspace(amount: str, share: str, price: str, other: str) -> Formula:
        recipe = f'title = "x"\n[phase.A.charge]\none = {amount}\ntwo = {amount}\nwater = "to 100"\n'
        files = {
            "one": 'title = "x"\nrecipe = "blend-one"\n',
            "two": 'title = "x"\nrecipe = "blend-two"\n',
            "extract-one": priced("extract one", price),
            "extract-two": priced("extract two", other),
            "oil": priced("oil", "0"),
            "water": priced("water", "0"),
        }
        blends = {
            f"blend_{name}": f'title = "x"\nproduct = "premix"\n[phase.A.charge]\n'
            f'extract-{name} = {share}\noil = "to 100"\n'
            for name in ("one", "two")
        }
        return formula(recipe, files, **blends)

    before, after = workspace("20", "30", "5", "6"), workspace("30", "40", "6", "5")
    found = effects(before, after, diff(before, after), Terms(DAY), ["cost_per_kg"])
    assert found[0].difference == F("0.66")
    assert shares(found[0], of=100) == {
        "amount:phase/A/charge/one": F(58, 3),
        "premix:premix/blend-one/phase/A/charge/extract-one": F(83, 6),
        "price:ingredient/extract-one/price": F(53, 6),
        "amount:phase/A/charge/two": F(115, 6),
        "premix:premix/blend-two/phase/A/charge/extract-two": F(41, 3),
        "price:ingredient/extract-two/price": F(-53, 6),
    }


@pytest.mark.parametrize("index", ["natural_origin", "natural_origin_without_water", "density"])
def test_shares_of_other_figures_add_up_too(index: str) -> None:
    # A weighted index splits as a cost does (Diewert 2005); what is no sum of products gets Shapley values.
    def workspace(pct: str, stated: str, dense: str) -> tuple[str, dict[str, str]]:
        return f'title = "x"\n[phase.A.charge]\nester = {pct}\noil = 10\nwater = "to 100"\n', {
            "ester": material("Ester", f'density = "{dense} g/mL"', f"[origin]\nnatural_origin = {stated}"),
            "oil": material("Oil", 'density = "0.91 g/mL"', "[origin]\nnatural_origin = 1"),
            "water": material("Aqua", 'density = "1 g/mL"', "[origin]\nnatural_origin = 1\nformulation_water = true"),
        }

    before, after = formula(*workspace("7", "0.60", "0.85")), formula(*workspace("12", "0.75", "0.95"))
    found = effects(before, after, diff(before, after), Terms(DAY), [index])
    assert sum((share.value for share in found[0].shares), F(0)) == found[0].difference
    assert len(found[0].shares) == 2
    if index == "natural_origin":
        # (7 + 12)/2 x 0.15 = 1.425; ((0.60 + 0.75)/2 - 1) x 5 = -1.625, against the water it displaces
        assert sorted(share.value for share in found[0].shares) == [F("-1.625"), F("1.425")]
