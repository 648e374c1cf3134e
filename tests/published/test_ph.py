"""The pH of mixtures against published ones: reference buffers, handbooks' tables, suppliers' sheets.

Each goes the whole way, from a recipe in % w/w through substances and forms to the figure.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from chemicals import MW, CAS_from_any

from formula_vcs.chemistry.compile_tables import parsed
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.ph import PhEstimate, estimate
from formula_vcs.model.cas import cas_trouble
from tests.published.helpers_workspace import formula, material

# g/mol of what the buffers are made of, as their standards weigh them
MASS = {
    "Potassium Hydrogen Phthalate": "204.22", "Potassium Phosphate": "136.09", "Disodium Phosphate": "141.96",
    "Sodium Phosphate": "119.98", "Phosphoric Acid": "98.00", "Sodium Borate": "381.37", "Sodium Carbonate": "105.99",
    "Sodium Bicarbonate": "84.01", "Citric Acid": "192.12", "Sodium Citrate": "258.07", "Potassium Hydroxide": "56.106",
    "Oxalic Acid": "90.03", "Potassium Bitartrate": "188.18", "Calcium Hydroxide": "74.093", "Acetic Acid": "60.05",
    "Sodium Acetate": "82.03", "Tromethamine": "121.14", "Tromethamine HCl": "157.60", "Lactic Acid": "90.08",
    "Boric Acid": "61.83", "Disodium EDTA": "372.24", "Tartaric Acid": "150.09", "Ammonia": "17.03",
    "Sodium Hydroxide": "39.997",
}  # fmt: skip

# hydrates (141.96 + 7 x 18.015, 157.62 + 18.015 g/mol) and disodium salts that the package takes for others
_TAKEN_FOR_OTHERS = ("7782-85-6", "7048-04-6", "139-33-3", "6381-92-6")


def of_percent(parts: dict[str, str]) -> PhEstimate:
    """Estimate a mixture of substances in % w/w with water to 100."""
    ids = {f"m{place}": name for place, name in enumerate(parts)}
    lines = "\n".join(f"{key} = {parts[name]}" for key, name in ids.items())
    text = f'title = "x"\n[phase.A.charge]\nwater = "to 100"\n{lines}\n'
    materials = {key: material(name) for key, name in ids.items()} | {"water": material("Aqua")}
    return estimate(Breakdown(formula(text, materials)))


def of_molal(parts: dict[str, float]) -> PhEstimate:
    """Estimate a mixture of substances in mol for a kg of water."""
    grams = {name: Decimal(str(amount)) * Decimal(MASS[name]) for name, amount in parts.items()}
    whole = 1000 + sum(grams.values())
    return of_percent({name: f"{100 * mass / whole:.9f}" for name, mass in grams.items()})


def near(found: PhEstimate, pH: float, tolerance: float) -> None:
    assert found.pH is not None, found.missing
    assert found.pH == pytest.approx(pH, abs=tolerance)
    assert found.low - 0.02 <= pH <= found.high + 0.02, (found.low, found.high)


@pytest.mark.parametrize(
    ("parts", "pH", "tolerance"),
    [
        # J. Res. Natl. Bur. Stand. 36 (1946) 47; European Pharmacopoeia 2.2.3 gives 4.01
        ({"Potassium Hydrogen Phthalate": 0.05}, 4.005, 0.03),
        # European Pharmacopoeia 2.2.3
        ({"Potassium Phosphate": 0.025, "Disodium Phosphate": 0.025}, 6.865, 0.03),
        ({"Potassium Phosphate": 0.0087, "Disodium Phosphate": 0.0303}, 7.413, 0.03),
        # J. Res. Natl. Bur. Stand. 73A (1969) 37: borax, carbonate, citrate
        ({"Sodium Borate": 0.01}, 9.18, 0.03),
        ({"Sodium Carbonate": 0.025, "Sodium Bicarbonate": 0.025}, 10.012, 0.03),
        ({"Citric Acid": 0.05, "Potassium Hydroxide": 0.05}, 3.776, 0.03),
        # European Pharmacopoeia 2.2.3: potassium tetroxalate is two oxalic acids and one potassium
        ({"Oxalic Acid": 0.10, "Potassium Hydroxide": 0.05}, 1.68, 0.05),
        # saturated at 25 degC: 0.0341 mol/kg (from memory)
        ({"Potassium Bitartrate": 0.0341}, 3.557, 0.03),
        # saturated at 25 degC: 0.0203 mol/kg (from memory); the ion CaOH+ is not counted
        ({"Calcium Hydroxide": 0.0203}, 12.45, 0.1),
    ],
)
def test_reference_buffers(parts: dict[str, float], pH: float, tolerance: float) -> None:
    near(of_molal(parts), pH, tolerance)


@pytest.mark.parametrize(
    ("phosphate", "citric", "pH"),
    [(4.11, 15.89, 3.0), (7.71, 12.29, 4.0), (10.30, 9.70, 5.0), (12.63, 7.37, 6.0), (16.47, 3.53, 7.0)],
)
def test_mc_ilvaine(phosphate: float, citric: float, pH: float) -> None:
    """McIlvaine, J. Biol. Chem. 49 (1921) 183: mL of 0.2 M disodium phosphate and of 0.1 M citric acid, to 20 mL."""
    found = of_molal({"Disodium Phosphate": 0.2 * phosphate / 20, "Citric Acid": 0.1 * citric / 20})

    assert found.pH == pytest.approx(pH, abs=0.25)


@pytest.mark.parametrize(("acid", "salt", "pH"), [(185, 15, 3.6), (102, 98, 4.6), (19, 181, 5.6)])
def test_acetate(acid: float, salt: float, pH: float) -> None:
    """Pearse, Histochemistry (1980): mL of 0.1 M acetic acid and of 0.1 M sodium acetate."""
    near(of_molal({"Acetic Acid": 0.0005 * acid, "Sodium Acetate": 0.0005 * salt}), pH, 0.1)


@pytest.mark.parametrize(("salt", "base", "pH"), [("7.02", "0.67", 7.20), ("6.35", "1.18", 7.50)])
def test_tromethamine(salt: str, base: str, pH: float) -> None:
    """A laboratory supplier's table, 25 degC: g of the hydrochloride and of the base in a litre."""
    found = of_percent({"Tromethamine HCl": f"{float(salt) / 10:.4f}", "Tromethamine": f"{float(base) / 10:.4f}"})

    near(found, pH, 0.1)


@pytest.mark.parametrize(("acid", "pH"), [(0.051, 6.8), (0.039, 7.0), (0.019, 7.4)])
def test_phosphate_at_a_tenth_molar(acid: float, pH: float) -> None:
    """Gomori's ratios, right at 0.1 mol/L in all."""
    near(of_molal({"Sodium Phosphate": acid, "Disodium Phosphate": 0.1 - acid}), pH, 0.06)


def test_phosphate_at_one_molar_is_no_answer() -> None:
    """The same ratio printed for 1 mol/L (pH 7.0) is false; the activities do not hold there."""
    found = of_molal({"Sodium Phosphate": 0.39, "Disodium Phosphate": 0.61})

    assert found.pH is None
    assert "ionic strength" in found.missing[0]


@pytest.mark.parametrize(
    ("parts", "pH", "tolerance"),
    [
        # buffer list of a maker of chromatographs
        ({"Sodium Phosphate": 0.05, "Phosphoric Acid": 0.05}, 2.1, 0.15),
        ({"Sodium Phosphate": 0.05, "Disodium Phosphate": 0.05}, 6.8, 0.05),
        ({"Citric Acid": 0.0167, "Sodium Citrate": 0.0033}, 3.1, 0.05),
        # "approximate pH" of handbooks (from memory)
        ({"Citric Acid": 0.0333}, 2.2, 0.15),
        ({"Tartaric Acid": 0.05}, 2.2, 0.15),
        ({"Acetic Acid": 0.1}, 2.9, 0.15),
        ({"Ammonia": 0.1}, 11.1, 0.15),
        ({"Sodium Hydroxide": 0.1}, 13.0, 0.15),
        ({"Sodium Carbonate": 0.05}, 11.6, 0.35),
        ({"Sodium Bicarbonate": 0.1}, 8.4, 0.35),
        # tables of calculated pH: citric, lactic, phosphoric, boric, acetic acid
        ({"Citric Acid": 0.001}, 3.24, 0.02),
        ({"Citric Acid": 0.010}, 2.62, 0.02),
        ({"Citric Acid": 0.100}, 2.08, 0.02),
        ({"Lactic Acid": 0.001}, 3.51, 0.02),
        ({"Lactic Acid": 0.010}, 2.96, 0.02),
        ({"Lactic Acid": 0.100}, 2.44, 0.02),
        ({"Phosphoric Acid": 0.010}, 2.26, 0.02),
        ({"Phosphoric Acid": 0.100}, 1.63, 0.02),
        ({"Acetic Acid": 0.010}, 3.39, 0.02),
        # certificate of a laboratory supplier: 5 % w/v of the dihydrate, 4.37, limits 4.0 to 5.5
        ({"Disodium EDTA": 0.1343}, 4.37, 0.3),
    ],
)
def test_other_tables(parts: dict[str, float], pH: float, tolerance: float) -> None:
    found = of_molal(parts)

    assert found.pH is not None, found.missing
    assert found.pH == pytest.approx(pH, abs=tolerance)


def test_borate_above_a_twentieth_molar_is_no_answer() -> None:
    """Palitzsch: boric 6.82 and borax 8.60 g/L have pH 8.4; polyborates make the constant say 8.6."""
    found = of_molal({"Boric Acid": 6.82 / 61.83, "Sodium Borate": 8.60 / 381.37})

    assert found.pH is None


@pytest.mark.parametrize("percent", ["0.20", "0.50", "1.00"])
def test_carbomer_by_itself(percent: str) -> None:
    """A carbomer maker's technical sheet: 2.5 to 3.5 before it is neutralised."""
    found = of_percent({"Carbomer": percent})

    assert found.pH is not None
    assert 2.5 <= found.pH <= 3.5


@pytest.mark.parametrize(
    ("base", "grams"),
    [
        ("Sodium Hydroxide", 0.41),
        ("Potassium Hydroxide", 0.49),
        ("Aminomethyl Propanol", 0.90),
        ("Triethanolamine", 1.5),
        ("Tromethamine", 1.3),
        ("Ammonia", 0.20),
    ],
)
def test_what_neutralises_carbomer(base: str, grams: float) -> None:
    """Suppliers' bulletins (from memory): g for one g of carbomer, to about pH 7."""
    found = of_percent({"Carbomer": "0.50", base: f"{grams / 2:.3f}"})

    assert found.pH == pytest.approx(7.0, abs=0.7)


def test_molar_masses() -> None:
    """Against the package chemicals 1.5, for every row and form whose CAS number it holds."""
    seen = 0
    for row in parsed("acids")["acid"].values():
        masses = {row["cas"]: row["molar_mass"]} if "cas" in row and "spread" not in row else {}
        for form in row["forms"].values():
            masses |= form.get("cas", {}) if isinstance(form, dict) else {}
        for cas, mass in masses.items():
            assert not cas_trouble(cas), cas
            if cas in _TAKEN_FOR_OTHERS:
                continue
            try:
                known = MW(CAS_from_any(cas))
            except ValueError:
                continue
            seen += 1
            assert mass == pytest.approx(known, abs=0.06), cas

    assert seen > 60
