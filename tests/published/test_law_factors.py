"""Factors of the packs against a chemistry library (chemicals, Bell et al.) and against those worked out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from chemicals.elements import mixture_atomic_composition, molecular_weight, nested_formula_parser

from formula_vcs.law.compile_packs import atoms, parsed
from formula_vcs.law.packs_in_force import factor, shipped

DATA = parsed("substances")
PAIRS = [
    pytest.param(row["formula"], DATA["basis"][basis], moles, row["inci"], basis, id=f"{row['inci']} as {basis}")
    for row in DATA["substance"]
    for basis, moles in row.get("gives", {}).items()
]
# Worked out apart from this program, from IUPAC 2021 abridged atomic weights, to four decimals.
BY_HAND = """
Sodium Benzoate | Benzoic Acid | 0.8475
Potassium Benzoate | Benzoic Acid | 0.7623
Potassium Sorbate | Sorbic Acid | 0.7464
Sodium Sorbate | Sorbic Acid | 0.8361
Sodium Salicylate | Salicylic Acid | 0.8627
Potassium Salicylate | Salicylic Acid | 0.7838
Sodium Dehydroacetate | Dehydroacetic Acid | 0.8844
Sodium Dehydroacetate Monohydrate | Dehydroacetic Acid | 0.8078
Sodium Propionate | Propionic Acid | 0.7712
Calcium Propionate | Propionic Acid | 0.7956
Sodium Formate | Formic Acid | 0.6768
Sodium Undecylenate | Undecylenic Acid | 0.8934
Methylparaben | 4-Hydroxybenzoic Acid | 0.9078
Ethylparaben | 4-Hydroxybenzoic Acid | 0.8312
Propylparaben | 4-Hydroxybenzoic Acid | 0.7665
Butylparaben | 4-Hydroxybenzoic Acid | 0.7111
Sodium Methylparaben | 4-Hydroxybenzoic Acid | 0.7932
Sodium o-Phenylphenate | o-Phenylphenol | 0.8856
Chlorhexidine Digluconate | Chlorhexidine | 0.5630
Chlorhexidine Diacetate | Chlorhexidine | 0.8080
Chlorhexidine Dihydrochloride | Chlorhexidine | 0.8739
Sodium Metabisulfite | SO2 | 0.6740
Sodium Sulfite | SO2 | 0.5082
Sodium Bisulfite | SO2 | 0.6156
Sodium Fluoride | F | 0.4525
Sodium Monofluorophosphate | F | 0.1320
Stannous Fluoride | F | 0.2425
Potassium Fluoride | F | 0.3270
Ammonium Fluoride | F | 0.5129
Magnesium Fluoride | F | 0.6099
Aluminium Fluoride | F | 0.6787
Zinc Citrate | Zn | 0.3415
Zinc Citrate Dihydrate | Zn | 0.3213
Zinc Chloride | Zn | 0.4797
Zinc Acetate Dihydrate | Zn | 0.2979
Zinc Gluconate | Zn | 0.1435
Zinc Sulfate Heptahydrate | Zn | 0.2274
Zinc Sulfate Monohydrate | Zn | 0.3643
Strontium Chloride Hexahydrate | Sr | 0.3286
Strontium Chloride | Sr | 0.5527
Strontium Acetate | Sr | 0.4259
Potassium Hydroxide | Sodium Hydroxide | 0.7129
Lithium Hydroxide | Sodium Hydroxide | 1.6702
Retinyl Acetate | Retinol | 0.8720
Retinyl Palmitate | Retinol | 0.5458
Alumina | Al | 0.5293
Aluminium Hydroxide | Al | 0.3459
Potassium Alum Dodecahydrate | Al | 0.0569
Aluminum Chlorohydrate | Al | 0.3093
Urea Peroxide | Hydrogen Peroxide | 0.3616
"""


@pytest.mark.parametrize(("formula", "basis", "moles", "inci", "name"), PAIRS)
def test_a_factor_is_that_of_a_chemistry_library(formula: str, basis: str, moles: int, inci: str, name: str) -> None:
    """Within what the library's own atomic weights differ by: a few parts in 100,000."""
    mass = molecular_weight(nested_formula_parser(formula))
    expected = moles * molecular_weight(nested_formula_parser(basis)) / mass
    found = factor(inci.casefold(), name)

    assert found is not None
    assert expected == pytest.approx(float(found.value), rel=2e-4)


@pytest.mark.parametrize("formula", [pytest.param(row["formula"], id=row["inci"]) for row in DATA["substance"]])
def test_atoms_are_counted_as_a_library_counts_them(formula: str) -> None:
    assert mixture_atomic_composition([nested_formula_parser(formula)], [1.0]) == pytest.approx(atoms(formula))


@pytest.mark.parametrize("line", BY_HAND.strip().splitlines())
def test_a_factor_is_what_was_worked_out_by_hand(line: str) -> None:
    inci, basis, expected = line.split(" | ")
    found = factor(inci.casefold(), basis)

    assert found is not None
    assert float(expected) == pytest.approx(float(found.value), abs=5.1e-5)


def test_the_doubt_covers_the_sixth_digit() -> None:
    """0.59 % sodium benzoate is 0.5000 % as acid, give or take: atomic weights do not decide (IUPAC uncertainties)."""
    found = factor("sodium benzoate", "Benzoic Acid")

    assert found is not None
    used, doubt = Fraction("0.59") * found.value, Fraction("0.59") * found.doubt
    assert used - doubt < Fraction("0.5") < used + doubt
    assert doubt < Fraction("0.0001")


def test_us_fluoride_pairs() -> None:
    """21 CFR 355.10: 0.188 to 0.254 % sodium fluoride is "850 to 1,150 ppm" theoretical fluorine."""
    found = factor("sodium fluoride", "F")

    assert found is not None
    assert 850 == round(float(found.value) * 0.188 * 10_000, -1)
    assert 1150 == round(float(found.value) * 0.254 * 10_000, -1)


def test_what_has_no_factor() -> None:
    assert factor("glycerin", "Benzoic Acid") is None
    assert set(shipped()["substances"]) >= {"sodium benzoate", "zinc chloride"}
