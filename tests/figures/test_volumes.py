"""Recipes that fill up to a volume, and % w/v: percentages by the stated density, and none without it."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.density import filling_density
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import figures
from formula_vcs.model.facts import unread
from formula_vcs.toml.recipe_file import read_recipe
from formula_vcs.toml.syntax import parse
from tests.conftest import MakeWorkspace


def made(workspace: MakeWorkspace, head: str, charges: str, more: str = "") -> Breakdown:
    text = f'title = "Rinse"\n{head}\n[phase.A.charge]\n{charges}{more}'
    snapshot = workspace({"cream.toml": text})
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    assert [] == list(unread(recipe.facts))
    return Breakdown(snapshot.formula(recipe))


MASS = 'amounts = "mass"\n'
W_V = 'amounts = "w/v"\n'
DENSE = 'density = "1.02 g/mL"\n'


@pytest.mark.parametrize(
    ("head", "charges", "glycerin"),
    [
        # 51 g in 1000 mL that weigh 1020 g; the same as 5.1 g in 100 mL that weigh 102 g
        (MASS + DENSE, 'water = "to 1000 mL"\nglycerin = "51 g"\n', 5),
        (MASS + DENSE, 'water = "to 1 L"\nglycerin = "51 g"\n', 5),
        (W_V + DENSE, 'water = "to 100 mL"\nglycerin = 5.1\n', 5),
        (W_V + DENSE, 'water = "to 100"\nglycerin = "5100 mg"\n', 5),
        (W_V + 'density = "0.8 g/mL"\n', 'water = "to 100 mL"\nglycerin = 4\n', 5),
    ],
)
def test_percentages_follow_from_the_density(head: str, charges: str, glycerin: int, workspace: MakeWorkspace) -> None:
    composition = made(workspace, head, charges).composition

    assert {"water": Fraction(100 - glycerin), "glycerin": Fraction(glycerin)} == composition.by_ingredient()
    assert not composition.is_open


def test_a_volume_in_a_recipe_by_weight_in_volume_counts_by_the_density_of_its_material(
    workspace: MakeWorkspace,
) -> None:
    """20 mL of water weigh 20 g; 100 mL of it all 102 g."""
    text = 'water = "20 mL"\nglycerin = "to 100 mL"\n'

    assert Fraction(2000, 102) == made(workspace, W_V + DENSE, text).composition.pct("A/water")


def test_the_spec_states_a_density_where_it_is_one_value(workspace: MakeWorkspace) -> None:
    spec = '\n[spec]\ndensity = "1.02 g/mL"\n'

    assert 5 == made(workspace, W_V, 'water = "to 100"\nglycerin = 5.1\n', spec).composition.pct("A/glycerin")


@pytest.mark.parametrize("more", ["", '\n[spec]\ndensity = "1.01 to 1.03 g/mL"\n'])
@pytest.mark.parametrize(
    ("head", "charges"),
    [(MASS, 'water = "to 1000 mL"\nglycerin = "51 g"\n'), (W_V, 'water = "to 100"\nglycerin = 5.1\n')],
)
def test_without_one_density_no_percentage_is_known(
    head: str, charges: str, more: str, workspace: MakeWorkspace
) -> None:
    sums = made(workspace, head, charges, more)

    assert ["A/water", "A/glycerin"] == [charge.key for charge in sums.composition.unknown]
    assert {Fraction(0)} == set(sums.composition.by_ingredient().values())
    found = figures(sums, Terms(datetime.date(2026, 11, 30)))
    assert [] == [name for name, figure in found.items() if figure.value]


def test_a_filled_volume_is_weighed_by_the_stated_density(workspace: MakeWorkspace) -> None:
    found = filling_density(made(workspace, DENSE, 'water = "to 100"\nglycerin = 5\n'))

    assert (Fraction("1.02"), ("density as the recipe states it",)) == (found.value, found.basis)


@pytest.mark.parametrize(
    ("head", "charges", "path", "words"),
    [
        (W_V, 'water = "to 1000 mL"\n', "phase/A/charge/water", 'amounts = "mass", "to 1000 mL"'),
        (W_V, 'water = "to 90"\n', "phase/A/charge/water", "% w/v fills up to 100 mL"),
        (W_V, 'water = "20 %"\n', "phase/A/charge/water", "a mass or a volume is wanted here"),
        ('amounts = "v/v"\n', "water = 1\n", "amounts", "'v/v' is not known"),
        (MASS, 'water = "to 20 degC"\n', "phase/A/charge/water", "a mass or a volume is wanted here"),
        (W_V + 'density = "0 g/mL"\n', "water = 1\n", "density", "is nothing"),
        (W_V + 'density = "1.02"\n', "water = 1\n", "density", "has no unit"),
    ],
)
def test_what_is_refused(head: str, charges: str, path: str, words: str) -> None:
    facts = read_recipe(parse(f'title = "R"\n{head}[phase.A.charge]\n{charges}'.encode()).data)
    found = {"/".join(at): value.message for at, value in unread(facts)}

    assert [path] == list(found)
    assert words in found[path]
