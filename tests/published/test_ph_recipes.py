"""Whole recipes whose pH a pharmacopoeia or a maker prints, as a chemist would write them: g and mL, to 1000 mL.

The recipes are in buffers/, each with its source; what that states, with a tolerance, is the pH of the ``[spec]``.  The
materials are as bought: hydrates, dilutions, 85 %.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.model.formula import Formula
from formula_vcs.rules.judge import judge
from tests.published.helpers_workspace import DAY, formula, material

_BUFFERS = Path(__file__).with_name("buffers")
_RECIPES = sorted(path.stem for path in _BUFFERS.glob("*.toml"))

# % by molar masses: water of crystals 18.015 g/mol; 0.1 mol/L weighs 1 g/mL (our assumption)
_MATERIALS = {
    "water": material("Aqua"),
    "potassium-hydrogen-phthalate": material("Potassium Hydrogen Phthalate"),
    # 254.19 g/mol: two oxalic acids, one potassium hydroxide, one water on balance
    "potassium-tetraoxalate": material({"Oxalic Acid": "70.84", "Potassium Hydroxide": "22.07", "Aqua": "7.09"}),
    "potassium-phosphate": material("Potassium Phosphate"),
    "disodium-phosphate": material("Disodium Phosphate"),
    # 156.01 g/mol
    "sodium-phosphate-dihydrate": material({"Sodium Phosphate": "76.90", "Aqua": "23.10"}),
    # 14.7 mol/L of 98.00 g/mol at 85 %
    "phosphoric-acid-85": material({"Phosphoric Acid": "85", "Aqua": "15"}, 'density = "1.695 g/mL"'),
    "borax": material("Sodium Borate", 'cas = "1303-96-4"'),
    "sodium-carbonate": material("Sodium Carbonate"),
    "sodium-bicarbonate": material("Sodium Bicarbonate"),
    "citric-acid": material("Citric Acid"),
    # 210.14 g/mol
    "citric-acid-monohydrate": material({"Citric Acid": "91.43", "Aqua": "8.57"}),
    # 294.10 g/mol
    "sodium-citrate-dihydrate": material({"Sodium Citrate": "87.75", "Aqua": "12.25"}),
    "tartaric-acid": material("Tartaric Acid"),
    # 230.08 g/mol
    "sodium-tartrate-dihydrate": material({"Disodium Tartrate": "84.34", "Aqua": "15.66"}),
    "potassium-hydroxide": material("Potassium Hydroxide"),
    "sodium-hydroxide": material("Sodium Hydroxide"),
    "potassium-chloride": material("Potassium Chloride"),
    "hydrochloric-acid-0-1m": material({"Hydrochloric Acid": "0.3646", "Aqua": "99.6354"}, 'density = "1.00 g/mL"'),
    "tromethamine-hcl": material("Tromethamine HCl"),
    "tromethamine": material("Tromethamine"),
}


def _recipe(name: str) -> Formula:
    text = (_BUFFERS / f"{name}.toml").read_text(encoding="utf-8")
    used = {key: facts for key, facts in _MATERIALS.items() if f"\n{key} " in text}
    return formula(text, used)


def test_at_least_ten_recipes() -> None:
    assert len(_RECIPES) >= 10


@pytest.mark.parametrize("name", _RECIPES)
def test_the_figure_lies_in_what_the_source_states(name: str) -> None:
    of = _recipe(name)
    stated = of.recipe.spec["pH"]
    assert stated.low is not None
    assert stated.high is not None

    found = FIGURES["ph_estimate"](Breakdown(of), Terms(DAY))

    assert found.value is not None, found.missing
    assert stated.low.base <= found.value <= stated.high.base, float(found.value)
    assert "ph-agrees" not in {finding.rule for finding in judge(of, DAY)}
