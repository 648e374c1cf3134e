"""ISO 16128 contents, and water."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import figures
from formula_vcs.words.numbers import exact_text
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
OIL = (
    'title = "Oil"\n[substances]\n"Olea Europaea Fruit Oil" = 100\n'
    "[origin]\nnatural = 1\nnatural_origin = 1\norganic = 0.8\norganic_origin = 0.9\n"
)
BETAINE = (
    'title = "Betaine 30"\n[substances]\n"Aqua" = 70\n"Betaine" = 30\n'
    '[origin]\nnatural = 0\nnatural_origin = "9/10"\norganic = 0\norganic_origin = 0.1\n'
)


def known(snapshot: Snapshot) -> dict[str, Figure]:
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    return figures(Breakdown(snapshot.formula(recipe)), Terms(datetime.date(2026, 6, 1)))


@pytest.fixture
def cream(workspace: MakeWorkspace) -> Snapshot:
    """60 water, 10 oil, 30 of a bought solution."""
    return workspace(
        {
            "ingredients/oil.toml": OIL,
            "ingredients/betaine-30.toml": BETAINE,
            "cream.toml": 'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\noil = 10\nbetaine-30 = 30\n',
        }
    )


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("natural", "70"),  # 60 + 10
        ("natural_origin", "97"),  # 60 + 10 + 27
        ("organic", "8"),
        ("organic_origin", "12"),  # 9 + 3
        ("natural_without_water", "25"),  # 10 / 40
        ("natural_origin_without_water", "92.5"),  # 37 / 40
        ("organic_without_water", "20"),  # 8 / 40
        ("organic_origin_without_water", "30"),  # 12 / 40
        ("formulation_water", "60"),  # the water inside the bought solution is not added as such
        ("water", "81"),  # 60 + 0.7 x 30
    ],
)
def test_contents(name: str, expected: str, cream: Snapshot) -> None:
    found = known(cream)[name]

    assert (expected, "%") == (exact_text(found.value or Fraction(0)), found.unit)


def test_water_inside_premixes_counts(workspace: MakeWorkspace) -> None:
    """Water to 100 with 20 of a premix that is half water, one level further down: 80 + 20 x (0.5 + 0.5 x 0.5)."""
    made = 'title = "Half"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\n{} = 50\n'
    found = known(
        workspace(
            {
                "inner.toml": made.format("glycerin"),
                "outer.toml": made.format("half"),
                "ingredients/half.toml": 'title = "Half"\nrecipe = "inner"\n',
                "ingredients/quarter.toml": 'title = "Quarter"\nrecipe = "outer"\n',
                "cream.toml": 'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\nquarter = 20\n',
            }
        )
    )

    assert (Fraction(95), Fraction(95)) == (found["water"].value, found["formulation_water"].value)


def test_a_missing_index_is_named_with_its_ingredient(workspace: MakeWorkspace) -> None:
    text = 'title = "Glycerin"\n[substances]\n"Glycerin" = 100\n[origin]\nnatural = 0\n'
    found = known(workspace({"ingredients/glycerin.toml": text}))

    assert ("glycerin: no natural-origin index in [origin]",) == found["natural_origin"].missing
    assert found["natural_origin"].value is None
    assert found["natural"].value == 95


def test_a_material_of_no_amount_needs_no_index(workspace: MakeWorkspace) -> None:
    text = 'title = "Glycerin"\n[substances]\n"Glycerin" = 100\n'
    cream = 'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 0\n'

    assert known(workspace({"ingredients/glycerin.toml": text, "cream.toml": cream}))["natural"].value == 100


def test_nothing_but_water_has_no_content_without_it(workspace: MakeWorkspace) -> None:
    found = known(workspace({"cream.toml": 'title = "Water"\n[phase.A.charge]\nwater = "to 100"\n'}))

    assert ("nothing is left without formulation water",) == found["natural_without_water"].missing


def test_density_is_by_ideal_volumes_and_called_an_estimate(workspace: MakeWorkspace) -> None:
    found = known(workspace())["density"]

    assert 1 / (Fraction("0.95") + Fraction("0.05") / Fraction("1.26")) == found.value
    assert found.estimate
    assert "estimate: ideal volume additivity" in found.basis


def test_density_names_what_states_none(cream: Snapshot) -> None:
    assert ("oil: no density", "betaine-30: no density") == known(cream)["density"].missing


@pytest.mark.parametrize("broken", ['title = "Glycerin', ""])
def test_a_material_that_cannot_be_read_is_named(broken: str, workspace: MakeWorkspace) -> None:
    found = known(workspace({"ingredients/glycerin.toml": broken}))

    for name in ("natural", "water", "density", "cost_per_kg"):
        assert found[name].value is None, name
        assert any("glycerin" in words for words in found[name].missing), name


def test_an_open_amount_leaves_figures_unknown(workspace: MakeWorkspace) -> None:
    found = known(workspace({"cream.toml": 'title = "Cream"\n[phase.A.charge]\nwater = 60\nglycerin = "q.s."\n'}))

    assert {"glycerin: the amount is not settled"} == {w for f in found.values() for w in f.missing if "glycerin" in w}
    assert {None} == {found[name].value for name in ("cost_per_kg", "density", "water", "natural")}
    assert found["total"].value == 60  # of what is known, and it says what is not
