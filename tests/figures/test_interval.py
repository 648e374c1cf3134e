"""Compositions as suppliers print them: the middle counts, the ends are said."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.law.compliance import Compliance, in_force
from formula_vcs.law.labelling import allergens
from formula_vcs.model.facts import unread
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.toml.ingredient_file import read_ingredient
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.write_facts import rewritten
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
DAY = datetime.date(2026, 11, 30)
HEAD = 'title = "M"\n\n[substances]\n'


def material(inside: str) -> Ingredient:
    found = Ingredient("m", read_ingredient(parse(f"{HEAD}{inside}".encode()).data))
    assert [] == list(unread(found.facts))
    return found


@pytest.mark.parametrize(
    ("inside", "name", "held"),
    [
        ('"A" = "28 to 32"\n"Aqua" = "to 100"\n', "A", (28, 30, 32)),
        ('"A" = "28 to 32 %"\n"Aqua" = "to 100"\n', "Aqua", (68, 70, 72)),
        ('"A" = "at most 5"\n"Aqua" = "to 100"\n', "A", (0, Fraction(5, 2), 5)),
        ('"A" = "at least 95"\n"Aqua" = "to 100"\n', "A", (95, Fraction(195, 2), 100)),
        ('"A" = { pct = "30 to 30" }\n"Aqua" = 70\n', "A", (30, 30, 30)),
        ('"A" = "60 to 80"\n"B" = "20 to 50"\n"Aqua" = "to 100"\n', "Aqua", (0, 0, 20)),  # 105 at the middles
    ],
)
def test_ends_and_middle(inside: str, name: str, held: tuple[int, ...]) -> None:
    assert held == tuple(material(inside).held[name])


def test_a_range_of_one_number_is_that_number() -> None:
    assert material('"A" = "30 to 30.0"\n"Aqua" = 70\n').facts == material('"A" = 30\n"Aqua" = 70\n').facts
    assert not material('"A" = 30\n"Aqua" = "to 100"\n').ranged


def made(workspace: MakeWorkspace, inside: str) -> Breakdown:
    head = 'title = "Wash"\nproduct = "hand cream"\nmarkets = ["EU"]\n\n'
    recipe = f'{head}[phase.A.charge]\nwater = "to 100"\nm = 10\n'
    snapshot = workspace({"cream.toml": recipe, "ingredients/m.toml": f"{HEAD}{inside}"})
    found = snapshot.recipe("cream")
    assert found is not None
    return Breakdown(snapshot.formula(found))


def figure(sums: Breakdown, name: str) -> Figure:
    return FIGURES[name](sums, Terms(DAY))


def test_a_figure_counts_the_middle_and_says_the_ends(workspace: MakeWorkspace) -> None:
    found = figure(made(workspace, '"Coco-Betaine" = "28 to 32"\n"Aqua" = "to 100"\n'), "water")

    assert 97 == found.value
    assert ("water: the middle of the ranges of m; at their ends 96.80 to 97.20 %",) == found.basis


def test_a_figure_that_no_range_moves_says_nothing(workspace: MakeWorkspace) -> None:
    found = figure(made(workspace, '"Squalane" = "28 to 32"\n"Squalene" = "to 100"\n'), "water")

    assert (Fraction(90), ()) == (found.value, found.basis)


def test_a_range_goes_through_a_premix(workspace: MakeWorkspace) -> None:
    snapshot = workspace(
        {
            "ingredients/m.toml": f'{HEAD}"Coco-Betaine" = "28 to 32"\n"Aqua" = "to 100"\n',
            "half.toml": 'title = "P"\nproduct = "premix"\n[phase.A.charge]\nwater = 50\nm = 50\n',
            "ingredients/half.toml": 'title = "Half"\nrecipe = "half"\n',
            "cream.toml": 'title = "C"\nproduct = "hand cream"\n[phase.A.charge]\nwater = "to 100"\nhalf = 10\nm = 5\n',
        }
    )
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    sums = Breakdown(snapshot.formula(recipe))

    held = Compliance(sums.formula, sums).totals["coco-betaine"]
    assert (Fraction("2.8"), Fraction(3), Fraction("3.2")) == (held.least, held.pct, held.most)


def test_an_allergen_counts_at_its_upper_end(workspace: MakeWorkspace) -> None:
    inside = '"Lavandula Angustifolia Oil" = 100\n\n[allergens]\n"Linalool" = "at most 0.02"\n'
    found = Compliance((sums := made(workspace, inside)).formula, sums)

    (linalool,) = [one for one in allergens(found, in_force(found, DAY)) if one.printed == "Linalool"]
    assert (Fraction("0.002"), True) == (linalool.pct, linalool.named)  # above 0.001 % in what stays on the skin


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"A" = 30\n"Aqua" = 70\n', '"A" = "28 to 32"\n"Aqua" = "to 100"\n'),
        ('"A" = "28 to 32"\n"Aqua" = "to 100"\n', '"A" = { pct = "29 to 31", cas = "56-81-5" }\n"Aqua" = 70\n'),
    ],
)
def test_ranges_are_written_back(old: str, new: str) -> None:
    assert read_ingredient(parse(rewritten(HEAD + old, material(new).facts, "ingredients").encode()).data) == dict(
        material(new).facts
    )
