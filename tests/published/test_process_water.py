"""Water activity, fluoride, HLB and densities against published tables and examples."""

from __future__ import annotations

from fractions import Fraction

import pytest
from chemicals.elements import molecular_weight, simple_formula_parser

from formula_vcs.figures import density as corrected
from formula_vcs.figures.actives import FLUORIDE
from formula_vcs.figures.water_activity import norrish, ross, salt
from formula_vcs.toml.package_data import load
from tests.published.helpers_workspace import figure, formula, material, value


def _alone(inci: str, percent: float) -> float:
    row = load("solutes")[inci]
    return norrish({inci: (percent / row["molar_mass"], row["K"])}, (100 - percent) / 18.015)


@pytest.mark.parametrize(
    ("inci", "points"),
    [
        ("glycerin", {10: 0.978, 20: 0.951, 30: 0.916, 40: 0.871, 50: 0.811, 60: 0.728, 70: 0.613}),
        ("sorbitol", {10: 0.989, 30: 0.957, 50: 0.898, 60: 0.847, 70: 0.767}),
        ("xylitol", {20: 0.970, 40: 0.919, 60: 0.818}),
        ("sucrose", {20: 0.986, 40: 0.959, 60: 0.895, 67: 0.851}),
        ("glucose", {20: 0.974, 40: 0.929, 50: 0.892}),
    ],
)
def test_norrish(inci: str, points: dict[int, float]) -> None:
    """Norrish 1966 with the constants of Baeza et al. 2010, % w/w of one solute: water activity at 25 degC."""
    for percent, activity in points.items():
        assert _alone(inci, percent) == pytest.approx(activity, abs=1e-3), percent


@pytest.mark.parametrize("humidity", [98, 95, 90, 85, 80, 75])
def test_glycerol_against_humidity_chambers(humidity: float) -> None:
    """Forney, Brandl, HortTechnology 2 (1992) 52: Gs = (19.9 - 0.189 RH)^0.0806, % w/w = 383 Gs - 383; to 60 %."""
    percent = 383 * (19.9 - 0.189 * humidity) ** 0.0806 - 383

    assert _alone("glycerin", percent) == pytest.approx(humidity / 100, abs=0.007)


@pytest.mark.parametrize(("molality", "activity"), [(1, 0.967), (3, 0.893), (5, 0.807), (6, 0.760)])
def test_salt_by_pitzer(molality: float, activity: float) -> None:
    """Robinson, Stokes: osmotic coefficient 1.271 at 6 mol/kg, water activity 0.760."""
    assert salt(molality) == pytest.approx(activity, abs=1.5e-3)


def test_saturated_salt() -> None:
    """6.15 mol/kg is saturated at 25 degC: 0.755 (Labuza), 0.753 (Greenspan 1977)."""
    assert salt(6.15) == pytest.approx(0.754, abs=4e-3)


def test_ross_and_norrish_agree_where_both_hold() -> None:
    solutes = {"glycerin": (0.1, 1.16), "sorbitol": (0.05, 1.65)}

    assert ross(solutes, 5.0) == pytest.approx(norrish(solutes, 5.0), abs=0.01)


GEL = 'title = "x"\n[phase.A.charge]\nwater = "to 100"\nsyrup = 50.00\n'


def test_sugars_inside_bought_syrups_count() -> None:
    """50 % of a 70 % sorbitol solution is 35 % sorbitol in 65 % water."""
    syrup = material({"Sorbitol": "70", "Aqua": "30"})
    found = figure(formula(GEL, {"water": material("Aqua"), "syrup": syrup}), "water_activity")

    assert found.estimate
    assert found.value is not None
    assert float(found.value) == pytest.approx(_alone("sorbitol", 35), abs=1e-4)


def test_beyond_its_range_it_is_not_known() -> None:
    of = formula(GEL, {"water": material("Aqua"), "syrup": material("Sodium Chloride")})
    spirit = formula(GEL, {"water": material("Aqua"), "syrup": material("Alcohol Denat.")})
    dry = formula('title = "x"\n[phase.A.charge]\noil = 100\n', {"oil": material("Olea Europaea Fruit Oil")})

    assert "beyond the 6" in figure(of, "water_activity").missing[0]
    assert figure(spirit, "water_activity").missing == ("alcohol denat.: volatile, and not covered",)
    assert figure(dry, "water_activity").missing == ("there is no water in it",)


@pytest.mark.parametrize(
    ("inci", "chemical", "atoms"),
    [
        ("sodium fluoride", "NaF", 1), ("stannous fluoride", "SnF2", 2), ("sodium monofluorophosphate", "Na2PO3F", 1),
        ("calcium fluoride", "CaF2", 2), ("potassium fluoride", "KF", 1), ("ammonium fluoride", "NH4F", 1),
    ],
)  # fmt: skip
def test_fluorine_by_mass(inci: str, chemical: str, atoms: int) -> None:
    """Against the atomic weights of the library `chemicals`."""
    theirs = atoms * molecular_weight({"F": 1}) / molecular_weight(simple_formula_parser(chemical))

    assert float(FLUORIDE[inci]) == pytest.approx(theirs, rel=1e-4)


@pytest.mark.parametrize(
    ("inci", "pct", "ppm", "tolerance"),
    [
        ("Sodium Fluoride", "0.188", 850, 0.002), ("Sodium Fluoride", "0.254", 1150, 0.002),
        ("Sodium Monofluorophosphate", "0.654", 850, 0.016), ("Sodium Monofluorophosphate", "0.884", 1150, 0.016),
        ("Stannous Fluoride", "0.351", 850, 0.002), ("Stannous Fluoride", "0.474", 1150, 0.002),
    ],
)  # fmt: skip
def test_fluoride_of_the_us_monograph(inci: str, pct: str, ppm: float, tolerance: float) -> None:
    """21 CFR 355.10 pairs these; monofluorophosphate there at 13.0 % fluorine, 1.6 % below its stoichiometry."""
    text = f'title = "x"\n[phase.A.charge]\nwater = "to 100"\nfluoride = {pct}\n'

    found = value(formula(text, {"water": material("Aqua"), "fluoride": material(inci)}), "fluoride_ppm")
    assert float(found) == pytest.approx(ppm, rel=tolerance)


def test_required_hlb_of_a_published_oil_phase() -> None:
    """OCL 29 (2022), table 4: beeswax 1.5, IPM 7.5, glyceryl stearate 7.5, stearic 12.5, seed oil 5: 10.33."""
    rows = {"wax": (1.5, 12), "ipm": (7.5, 11.5), "gs": (7.5, 3.8), "stearic": (12.5, 15), "oil": (5, 6.2)}
    text = 'title = "x"\n[phase.A.charge]\nwater = "to 100"\n' + "".join(f"{n} = {w}\n" for n, (w, _) in rows.items())
    oils = {n: material(n, 'functions = ["emollient"]', f"required_hlb = {r}") for n, (_, r) in rows.items()}

    assert float(value(formula(text, {"water": material("Aqua"), **oils}), "required_hlb")) == pytest.approx(
        10.33, abs=0.005
    )


def test_hlb_of_an_oil_that_nobody_knows_is_missing() -> None:
    text = 'title = "x"\n[phase.A.charge]\nwater = "to 100"\noil = 10.00\n'
    of = formula(text, {"water": material("Aqua"), "oil": material("Strange Oil", 'functions = ["emollient"]')})

    assert figure(of, "required_hlb").missing == ("oil: no required HLB",)
    assert figure(of, "emulsifier_hlb").missing == ("no emulsifier",)


@pytest.mark.parametrize(
    ("share", "celsius", "kilograms"),
    [(0.5, 20, 1126.2), (0.5, 25, 1123.7), (0.75, 25, 1191.6), (0, 20, 998.2), (1, 20, 1261.1)],
)
def test_glycerol_water(share: float, celsius: float, kilograms: float) -> None:
    """Volk, Kahler, Exp. Fluids 59 (2018) 75; handbooks have 1.126 for 50 % at 20 degC."""
    assert corrected.glycerol_water(share, celsius) == pytest.approx(kilograms, abs=0.5)


@pytest.mark.parametrize(
    ("share", "density"),
    [(0.10, 0.98187), (0.12, 0.97910), (0.50, 0.914), (0.60, 0.891), (0.70, 0.867), (0.80, 0.843), (0.95, 0.805)],
)
def test_ethanol_water(share: float, density: float) -> None:
    """Alcoholometric tables at 20 degC, Perry's Handbook."""
    assert corrected.ethanol_water(share) / 1000 == pytest.approx(density, abs=5e-4)


def test_volume_per_cent_of_ethanol() -> None:
    """50 % w/w is 57.9 % v/v, 70 % w/w is 76.9 % v/v at 20 degC."""
    assert [w * corrected.ethanol_water(w) / 789.3 for w in (0.5, 0.7)] == pytest.approx([0.579, 0.769], abs=1e-3)


def test_a_correction_counts_what_a_solution_has_lost_already() -> None:
    """Half and half of glycerol and water, mixed here or bought mixed, is 1.126 g/mL."""
    text = 'title = "x"\n[phase.A.charge]\nwater = 50.00\nglycerin = 50.00\n'
    water = material("Aqua", 'density = "0.9982 g/mL"')
    mixed = formula(text, {"water": water, "glycerin": material("Glycerin", 'density = "1.2611 g/mL"')})
    bought = formula(
        'title = "x"\n[phase.A.charge]\nsolution = 100\n',
        {"solution": material({"Glycerin": "50", "Aqua": "50"}, 'density = "1.1262 g/mL"')},
    )

    assert float(value(mixed, "density")) == pytest.approx(1.1143, abs=1e-4)
    assert float(value(mixed, "density_corrected")) == pytest.approx(1.1262, abs=2e-4)
    assert float(value(bought, "density_corrected")) == pytest.approx(1.1262, abs=1e-4)


def test_active_matter_leaves_water_and_salt_out() -> None:
    text = 'title = "x"\n[phase.A.charge]\nwater = "to 100"\nbetaine = 10.00\nsles = 10.00\n'
    betaine = material(
        {"Cocamidopropyl Betaine": "30", "Sodium Chloride": "5", "Aqua": "65"}, 'functions = ["surfactant"]'
    )
    of = formula(
        text,
        {
            "water": material("Aqua"),
            "betaine": betaine,
            "sles": material("Sles", 'functions = ["surfactant"]', "active = 70"),
        },
    )

    assert value(of, "active_matter") == Fraction(10)
