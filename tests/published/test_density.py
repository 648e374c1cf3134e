"""Density by ideal volume additivity against IAPWS-95 and handbook values of glycerol-water and ethanol-water."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from chemicals.iapws import iapws95_rho

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.units.unit_reading import read_quantity
from tests.published.helpers_workspace import figure, formula, material, places, value

F = Fraction

# g/mL at 101.325 kPa, rounded, as printed at thoughtco.com/what-is-the-density-of-water-609413 and experts123.com
# (text seen).
WATER = [(4, "0.99997"), (10, "0.99970"), (15, "0.99910"), (20, "0.99821"), (25, "0.99705"), (30, "0.99565")]


def iapws_95(celsius: float) -> float:
    """Give the density of water in g/mL at 101.325 kPa, as the library `chemicals` works it out by IAPWS-95."""
    return float(iapws95_rho(celsius + 273.15, 101325.0)) / 1000  # type: ignore[no-untyped-call]


def density(shares: dict[str, str], densities: dict[str, str]) -> Fraction:
    """Give the density figure (g/mL) of a mixture, which must call itself an estimate."""
    lines = [f"{name} = {pct}" for name, pct in shares.items()]
    text = "\n".join(['title = "x"', "[phase.A.charge]", *lines, ""])
    files = {name: material(name.title(), f'density = "{densities[name]} g/mL"') for name in shares}
    mixture = formula(text, files)
    found = figure(mixture, "density")
    assert found.estimate
    assert any("ideal volume additivity" in basis for basis in found.basis)
    assert found.unit == "g/mL"
    return value(mixture, "density")


@pytest.mark.parametrize(("celsius", "printed"), WATER)
def test_pure_water_keeps_the_density_of_iapws_95(celsius: int, printed: str) -> None:
    # A formula of one material has its density, exactly; to five places that is IAPWS-95's.
    found = density({"water": "100"}, {"water": printed})
    assert found == F(printed)
    assert math.isclose(found, iapws_95(celsius), abs_tol=6e-6)


def test_the_water_of_the_formulary_is_that_of_iapws_95() -> None:
    # 0.9982 g/mL at 20 degC, to four places (998.207 kg/m3)
    assert round(iapws_95(20), 4) == 0.9982
    assert read_quantity("0.9982 g/mL").base == F("998.2")


def test_a_measure_of_water_is_its_density() -> None:
    # 190 mL x 0.9982 g/mL = 189.658 g
    text = 'title = "x"\namounts = "mass"\n[phase.A.charge]\nwater = "190 mL"\n'
    found = formula(text, {"water": material("Aqua", 'density = "0.9982 g/mL"')})
    assert Breakdown(found).composition.total * 1000 == F("189.658")


def test_volumes_add_up_by_hand() -> None:
    # 70 g of water (1.000) and 30 g of oil (0.900): 70 + 33.3333 = 103.3333 mL; 100 / 103.3333 = 30/31 = 0.9677 g/mL
    found = density({"water": "70", "oil": "30"}, {"water": "1.000", "oil": "0.900"})
    assert found == F(30, 31)
    assert places(found, 4) == "0.9677"


def test_volumes_add_up_by_hand_in_a_paste() -> None:
    # 20 silica (2.0) = 10 mL, 40 sorbitol syrup (1.28) = 31.25 mL, 40 water (1.00) = 40 mL: 100 / 81.25 = 1.2308 g/mL
    shares = {"silica": "20", "sorbitol": "40", "water": "40"}
    found = density(shares, {"silica": "2.0", "sorbitol": "1.28", "water": "1.00"})
    assert found == F(100) / F("81.25")
    assert places(found, 4) == "1.2308"


# At 20 degC in g/mL: glycerol 1.261 (USP 29 asks for at least 1.249 at 25 degC), water 0.9982 (IAPWS-95), ethanol
# 0.7893 (from memory).
GLYCEROL = {"glycerol": "1.261", "water": "0.9982"}
ETHANOL = {"ethanol": "0.7893", "water": "0.9982"}


def volk_and_kaehler(share: float, celsius: float) -> float:
    """Give the density of glycerol-water in g/mL.

    A. Volk, C. J. Kaehler, Exp. Fluids 59 (2018) 75, doi 10.1007/s00348-018-2527-y: the pure densities seen at
    met.reading.ac.uk/~sws04cdw/viscosity_calc.html, the contraction from memory.
    """
    glycerol = 1273.3 - 0.6121 * celsius
    water = 1000 * (1 - math.pow(abs(celsius - 3.98) / 615, 1.71))
    a = 1.78e-6 * celsius**2 - 1.82e-4 * celsius + 1.41e-2
    contraction = 1 + a * math.pow(math.sin(math.pow(share, 1.31) * math.pi), 0.81)
    return contraction / (share / glycerol + (1 - share) / water) / 1000


def test_glycerol_of_50_percent_is_an_estimate_within_1_5_percent() -> None:
    # By hand: 100 / (50/1.261 + 50/0.9982) = 100 / (39.6511 + 50.0902) = 1.1143.  Published 1.1262 at 20 degC
    # (Volk and Kaehler; handbooks 1.126, from memory): 1.06 % low, as the two contract.
    found = density({"glycerol": "50", "water": "50"}, GLYCEROL)
    assert places(found, 4) == "1.1143"
    assert places(F(volk_and_kaehler(0.5, 20.0)), 4) == "1.1262"
    error = (found / F("1.1262") - 1) * 100
    assert F("-1.5") < error < 0
    assert places(error, 2) == "-1.06"


@pytest.mark.parametrize("pct", [5, 10, 20, 30, 40, 60, 70, 80, 90, 95])
def test_glycerol_of_any_share_is_within_1_5_percent(pct: int) -> None:
    found = density({"glycerol": str(pct), "water": str(100 - pct)}, GLYCEROL)
    assert -0.015 < found / F(volk_and_kaehler(pct / 100, 20.0)) - 1 < 0.001


# g/mL at 20 degC.  10 %: R. H. Perry, Chemical Engineers' Handbook, 7th ed. (seen at handymath.com); the others from
# alcoholometric tables (dbaril.neocities.org, text seen), to three places.
@pytest.mark.parametrize(
    ("pct", "published"), [(10, "0.98187"), (50, "0.914"), (60, "0.891"), (70, "0.867"), (80, "0.843"), (90, "0.818")]
)
def test_ethanol_is_an_estimate_within_4_percent(pct: int, published: str) -> None:
    # 50 %: 100 / (50/0.7893 + 50/0.9982) = 0.8815, which is 3.55 % low
    found = density({"ethanol": str(pct), "water": str(100 - pct)}, ETHANOL)
    assert F("-0.04") < found / F(published) - 1 < 0


def test_specific_gravity_is_no_density() -> None:
    # "1.261 at 20/20" is 1.261 x 0.99821 = 1.2587 g/mL: a bare number is refused, so nobody takes one for the other.
    mixture = formula('title = "x"\n[phase.A.charge]\na = 100\n', {"a": material("A", "density = 1.261")})
    found = figure(mixture, "density")
    assert (found.value, found.missing) == (None, ("a: no density",))
