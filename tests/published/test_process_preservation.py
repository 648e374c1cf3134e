"""Weak acids, neutralisation, windows, low risk: against tables of handbooks and stoichiometry."""

from __future__ import annotations

import pytest

from formula_vcs.chemistry.equilibrium import Solution, Weak, balance, base_needed, fractions, mean_charge
from formula_vcs.chemistry.tables import load
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.low_risk import low_risk, summary
from formula_vcs.figures.preservatives import free_acids
from tests.published.helpers_workspace import DAY as TODAY
from tests.published.helpers_workspace import figure, formula, material

DAY = Terms(TODAY)


@pytest.mark.parametrize(
    ("acid", "percents"),
    [
        ("benzoic", [94.1, 83.5, 61.5, 33.6, 13.8, 4.81, 1.57, 0.50]),
        ("sorbic", [98.3, 94.8, 85.2, 64.5, 36.5, 15.4, 5.44, 1.79]),
        ("dehydroacetic", [99.5, 98.3, 94.9, 85.5, 65.1, 37.1, 15.7, 5.56]),
        ("salicylic", [48.3, 22.8, 8.54, 2.87, 0.92, 0.29, 0.09, 0.03]),
        ("anisic", [96.7, 90.3, 74.7, 48.3, 22.8, 8.54, 2.87, 0.92]),
        ("levulinic", [97.5, 92.5, 79.6, 55.2, 28.0, 11.0, 3.74, 1.22]),
        ("propionic", [98.7, 95.9, 88.1, 70.1, 42.6, 19.0, 6.90, 2.29]),
    ],
)
def test_undissociated_fractions(acid: str, percents: list[float]) -> None:
    """Henderson-Hasselbalch from pH 3.0 to 6.5 in steps of 0.5, worked with the same pKa elsewhere."""
    pka = load("acids")["acids"][acid]["pka"][:1]
    ours = [100 * fractions(3.0 + 0.5 * i, pka)[0] for i in range(8)]

    assert ours == pytest.approx(percents, rel=6e-3, abs=6e-3)


def test_a_handbooks_table_fits_another_constant() -> None:
    """The Food Additives Data Book says pK 4.19 and prints a table of 4.164: 93.5, 59.3, 12.8, 1.44, 0.144 %."""
    table = [93.5, 59.3, 12.8, 1.44, 0.144]

    assert [100 * fractions(pH, [4.164])[0] for pH in range(3, 8)] == pytest.approx(table, rel=1.2e-2)
    assert 100 * fractions(4, [4.19])[0] == pytest.approx(60.8, abs=0.05)


@pytest.mark.parametrize(("pH", "ratio"), [(4, 0.215), (5, 0.346), (5.5, 0.407), (6, 0.465), (7, 0.582)])
def test_sodium_hydroxide_for_citric_acid(pH: float, ratio: float) -> None:
    """The g of NaOH for 1 g of anhydrous citric acid to a pH; all three protons take 0.6246."""
    assert mean_charge(pH, load("acids")["acids"]["citric"]["pka"]) * 39.997 / 192.12 == pytest.approx(
        ratio, abs=1.5e-3
    )
    assert mean_charge(14, load("acids")["acids"]["citric"]["pka"]) * 39.997 / 192.12 == pytest.approx(0.6246, abs=1e-4)


@pytest.mark.parametrize(("mass", "ratio"), [(90.08, 0.4440), (138.12, 0.2896)])
def test_sodium_hydroxide_for_monoprotic_acids(mass: float, ratio: float) -> None:
    """Lactic and salicylic acid, neutralised altogether."""
    assert mean_charge(12, [3.86]) * 39.997 / mass == pytest.approx(ratio, abs=1e-4)


def test_potassium_hydroxide_for_stearic_acid() -> None:
    assert 56.106 / 284.48 == pytest.approx(0.1972, abs=1e-4)
    assert mean_charge(14, [4.9]) * 56.106 / 284.48 == pytest.approx(0.1972, abs=1e-4)


def test_fractions_of_a_polyprotic_acid_add_up() -> None:
    parts = fractions(4.76, [3.13, 4.76, 6.40])

    assert sum(parts) == pytest.approx(1)
    assert parts[1] == pytest.approx(parts[2])


def test_a_buffer_holds_best_at_its_constant() -> None:
    """Van Slyke 1922: 0.576 c at pH = pKa."""
    found = balance(Solution((Weak(0.1, (4.76,)),), 0.05, 0.0), ideal=True)

    assert found is not None
    assert found.pH == pytest.approx(4.76, abs=1e-3)
    assert found.capacity == pytest.approx(0.0576, abs=2e-4)


def test_ph_and_base_are_each_others_inverse() -> None:
    mixture = (Weak(0.03, (4.204,)), Weak(0.01, (3.13, 4.76, 6.40)))
    found = balance(Solution(mixture, base_needed(5.2, mixture), 0.0), ideal=True)

    assert found is not None
    assert found.pH == pytest.approx(5.2, abs=1e-6)


@pytest.mark.parametrize(
    ("inci", "factor"),
    [("sodium benzoate", 0.8475), ("potassium sorbate", 0.7464), ("sodium dehydroacetate", 0.8844)],
)
def test_salts_count_as_their_acid(inci: str, factor: float) -> None:
    """Acid equivalents by molar mass."""
    ((acid, mass, *_),) = load("acids")["forms"][inci]

    assert load("acids")["acids"][acid]["molar_mass"] / mass == pytest.approx(factor, abs=1e-4)


RECIPE = """
title = "Toner"
[phase.A.charge]
water = "to 100"
salt  = 0.50
[spec]
pH = "{pH}"
"""


def test_free_acid_of_a_benzoate() -> None:
    """0.50 % sodium benzoate is 0.42374 % acid; at pH 5.0 13.8 % of it is free: 0.0585 % of 99.5 % water."""
    sums = Breakdown(
        formula(RECIPE.format(pH="4.5 to 5.0"), {"water": material("Aqua"), "salt": material("Sodium Benzoate")})
    )
    (free,) = free_acids(sums)

    assert float(free.acid.total) == pytest.approx(0.42374, abs=1e-5)
    assert free.in_water[1] == pytest.approx(0.0587, abs=1e-4)
    assert free.in_water[0] == pytest.approx(0.1428, abs=1e-4)


def test_without_a_ph_range_it_is_not_known() -> None:
    of = formula(RECIPE.format(pH="at most 5"), {"water": material("Aqua"), "salt": material("Sodium Benzoate")})

    assert figure(of, "free_acid").value is None
    assert figure(of, "free_acid").missing == ("the spec states no pH range",)


@pytest.mark.parametrize(
    ("pH", "verdict"),
    [("2.5 to 2.9", "met"), ("2.5 to 3", "on the limit"), ("2.5 to 3.0", "on the limit"), ("2.5 to 3.1", "not met")],
)
def test_low_risk_by_pH(pH: str, verdict: str) -> None:
    """ISO 29621 prints pH 3; whether it is included could not be seen, so exactly on it is said to be."""
    of = formula(RECIPE.format(pH=pH), {"water": material("Aqua"), "salt": material("Sodium Benzoate")})
    flags = low_risk(Breakdown(of), DAY)

    assert next(flag.verdict for flag in flags if flag.criterion == "pH below 3") == verdict
    assert ("low risk by pH below 3" in summary(flags)) == (verdict == "met")


def test_low_risk_by_ethanol_and_without_water() -> None:
    spirit = formula(
        'title = "x"\n[phase.A.charge]\nwater = 79.00\nsalt = 21.00\n',
        {"water": material("Aqua"), "salt": material("Alcohol")},
    )
    dry = formula('title = "x"\n[phase.A.charge]\nsalt = 100\n', {"salt": material("Helianthus Annuus Seed Oil")})

    assert {f.criterion: f.verdict for f in low_risk(Breakdown(spirit), DAY)}["more than 20 % ethanol"] == "met"
    assert {f.criterion: f.verdict for f in low_risk(Breakdown(dry), DAY)}["no water"] == "met"
