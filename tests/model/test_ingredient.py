"""What a raw material mostly is."""

from __future__ import annotations

import pytest

from formula_vcs.model.ingredient import Ingredient, main_name
from formula_vcs.toml.ingredient_file import read_ingredient


@pytest.mark.parametrize(
    ("substances", "name"),
    [
        ({"Glycerin": 99, "Aqua": 1}, "Glycerin"),
        ({"Aqua": 60, "Sodium Laureth Sulfate": 28, "Sodium Sulfate": 12}, "Sodium Laureth Sulfate"),
        # an extract in a solvent is no grade of the solvent
        (
            {"Propylene Glycol": 58, "Aqua": 40, "Chamomilla Recutita Flower Extract": 2},
            "Chamomilla Recutita Flower Extract",
        ),
        ({"Glycerin": 50, "Aqua": 49, "Saccharomyces Ferment": 1}, "Saccharomyces Ferment"),
        (
            {"Glycerin": 60, "Aqua": 36, "Malva Sylvestris Extract": 3, "Rosa Canina Fruit Extract": 1},
            "Malva Sylvestris Extract",
        ),
        # and a preservative in a glycol stays what it mostly is
        ({"Phenoxyethanol": 70, "Propylene Glycol": 30}, "Phenoxyethanol"),
        ({"Cetearyl Alcohol": 60, "Olive Leaf Extract": 40}, "Cetearyl Alcohol"),
    ],
)
def test_a_material_is_its_most_and_an_extract_the_extract(substances: dict[str, int], name: str) -> None:
    """By this two grades of one material are told from two materials."""
    facts = read_ingredient({"title": "X", "substances": substances})

    assert name == main_name(Ingredient("x", facts))
