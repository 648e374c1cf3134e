"""Water activity: what has no constants here is said by name, and a salt that would move it leaves it unknown."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.water_activity import water_activity
from tests.conftest import MINIMAL, MakeWorkspace


def activity(workspace: MakeWorkspace, **substances: object) -> Figure:
    """Give the water activity of water with some % of substances (their names with underscores)."""
    charges = "".join(f"m{number} = {pct}\n" for number, pct in enumerate(substances.values()))
    files = {"cream.toml": f'title = "Cream"\n\n[phase.A.charge]\nwater = "to 100"\n{charges}'}
    for number, name in enumerate(substances):
        text = f'title = "M"\n\n[substances]\n"{name.replace("_", " ")}" = 100\n'
        files[f"ingredients/m{number}.toml"] = text
    snapshot = workspace({**MINIMAL, **files})
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    return water_activity(Breakdown(snapshot.formula(recipe)), Terms(datetime.date(2026, 6, 1)))


@pytest.mark.parametrize(
    "salt",
    ["Potassium Chloride", "Magnesium Chloride", "Lithium Chloride", "Ammonium Chloride", "Potassium Carbonate",
     "Sodium Acetate", "Trisodium Citrate", "Zinc Sulfate", "Aluminium Chloride", "Maris Sal"],
)  # fmt: skip
def test_a_salt_without_constants_leaves_it_unknown(workspace: MakeWorkspace, salt: str) -> None:
    found = activity(workspace, **{salt.replace(" ", "_"): "26.4"})

    assert (None, (f"{salt.lower()}: a salt, and no constants of it are known here",)) == (found.value, found.missing)


@pytest.mark.parametrize(("pct", "known"), [("1.02", True), ("1.03", False)])
def test_a_salt_is_passed_over_below_five_thousandths(workspace: MakeWorkspace, pct: str, known: bool) -> None:
    """KCl, 74.55 g/mol, two ions: 1 - exp(-2 m 0.018015) is 0.005 at 0.1391 mol/kg, which is 1.026 %."""
    found = activity(workspace, Potassium_Chloride=pct)

    assert known == (found.value == 1)
    words = "not counted for the water activity, which they lower by less than 0.005 together: potassium chloride"
    assert known == (words in found.basis)


def test_salts_count_together(workspace: MakeWorkspace) -> None:
    """0.6 % each of two that pass alone: 0.0056 together, and both are named, the larger first."""
    assert activity(workspace, Potassium_Chloride="0.6").value == 1
    assert activity(workspace, Magnesium_Sulfate="0.6").value == 1
    found = activity(workspace, Potassium_Chloride="0.6", Magnesium_Sulfate="0.6", Sodium_Nitrate="0.2")

    assert ["potassium chloride", "magnesium sulfate", "sodium nitrate"] == [one.split(":")[0] for one in found.missing]


@pytest.mark.parametrize(
    "name", ["Calcium Carbonate", "Calcium Sulfate", "Zinc Carbonate", "Hydrated Silica", "Sodium Cocoyl Glutamate"]
)
def test_what_stays_solid_or_is_no_small_salt_is_named_and_passed_over(workspace: MakeWorkspace, name: str) -> None:
    found = activity(workspace, **{name.replace(" ", "_"): 20})

    assert found.value == 1
    assert f"not counted for the water activity, as if nothing of it were dissolved: {name.lower()}" in found.basis


def test_salts_with_constants_are_counted_as_before(workspace: MakeWorkspace) -> None:
    benzoate, salt = activity(workspace, Sodium_Benzoate="0.5"), activity(workspace, Sodium_Chloride=10)

    assert benzoate.value == Fraction(round(1 / (1 + 0.5 / 144.10 * 2 / (99.5 / 18.015)), 4)).limit_denominator(10000)
    assert salt.value is not None
    assert float(salt.value) == pytest.approx(0.935, abs=0.002)  # 1.90 mol/kg: 0.9353, Robinson and Stokes
    assert not any("not counted" in line for line in (*benzoate.basis, *salt.basis))
