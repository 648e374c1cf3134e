"""Charges by list and by name."""

from __future__ import annotations

import pytest

from formula_vcs.chemistry.substances import ElectricCharge, charge_of, salt_of
from formula_vcs.model.ingredient import inci_key


@pytest.mark.parametrize(
    ("name", "charge"),
    [
        ("Sodium Laureth Sulfate", ElectricCharge("anionic", "sulfate", True)),
        ("Sodium Cocoyl Glutamate", ElectricCharge("anionic", "carboxylate", True)),
        ("Behentrimonium Methosulfate", ElectricCharge("cationic", "quat", True)),
        ("Cetylpyridinium Chloride", ElectricCharge("cationic", "quat", True)),
        ("Cocamidopropyl Betaine", ElectricCharge("amphoteric", "betaine", True)),
        ("Carbomer", ElectricCharge("anionic", "polymer", True)),
        ("Decyl Glucoside", ElectricCharge("non-ionic", "surfactant", True)),
        ("Behentrimonium Bromide", ElectricCharge("cationic", "quat", False)),
        ("Polyquaternium-28", ElectricCharge("cationic", "polymer", False)),
        ("Polyquaternium-47", ElectricCharge("amphoteric", "polymer", False)),
        ("TEA-Laureth Sulfate", ElectricCharge("anionic", "sulfate", False)),
        ("Disodium Oleamido MEA-Sulfosuccinate", ElectricCharge("anionic", "sulfonate", False)),
        ("Laureth-9", ElectricCharge("non-ionic", "surfactant", False)),
        ("Laureth-4 Phosphate", ElectricCharge("anionic", "phosphate", False)),
        ("PEG-15 Cocamine", None),
        ("Glyceryl Stearate Citrate", None),
        ("Glycerin", None),
        ("Magnesium Sulfate", None),
    ],
)
def test_charge_of_a_name(name: str, charge: ElectricCharge | None) -> None:
    assert charge == charge_of(inci_key(name))


def test_salts_know_their_ionic_strength() -> None:
    """1 mol/kg of a 2:2 salt is of ionic strength 4, of a 1:2 salt 3."""
    assert (4, 2) == salt_of("magnesium sulfate")[1:]  # type: ignore[index]
    assert (3, 2) == salt_of("calcium chloride")[1:]  # type: ignore[index]
    assert salt_of("sodium citrate") is None
