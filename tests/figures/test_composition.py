"""Percentages out of percent, parts, masses and volumes."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import Composition
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]


def composition(
    workspace: MakeWorkspace, lines: str, mode: str = "", extra: dict[str, str] | None = None
) -> Composition:
    head = f'title = "Cream"\n{mode and f"amounts = {mode!r}"}\n[phase.A.charge]\n'
    snapshot = workspace({"cream.toml": head + lines, **(extra or {})})
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    return Breakdown(snapshot.formula(recipe)).composition


def pcts(found: Composition) -> list[Fraction]:
    return [line.pct for line in found.lines]


@pytest.mark.parametrize(
    ("mode", "lines", "expected"),
    [
        ("", 'water = "to 100"\nglycerin = 5.05', ["94.95", "5.05"]),
        ("", "water = 60\nglycerin = 30", ["60", "30"]),
        ("parts", "water = 3\nglycerin = 1", ["75", "25"]),
        ("parts", 'water = "to 1000"\nglycerin = 50', ["95", "5"]),
        ("parts", "water = 2\nglycerin = 1", ["200/3", "100/3"]),
        ("mass", 'water = "1 kg"\nglycerin = "250 g"', ["80", "20"]),
        ("mass", 'water = "to 1 kg"\nglycerin = "50 g"', ["95", "5"]),
        ("mass", 'water = "1 lb"\nglycerin = "7000 grain"', ["50", "50"]),
        # 100 mL of 1.26 g/mL are 126 g
        ("mass", 'water = "74 g"\nglycerin = "100 mL"', ["37", "63"]),
        ("parts", "water = 0\nglycerin = 0", ["0", "0"]),
    ],
)
def test_percentages(mode: str, lines: str, expected: list[str], workspace: MakeWorkspace) -> None:
    assert [Fraction(text) for text in expected] == pcts(composition(workspace, lines, mode))


def test_a_volume_shows_how_it_was_converted(workspace: MakeWorkspace) -> None:
    (found,) = composition(workspace, 'water = "74 g"\nglycerin = "100 mL"', "mass").conversions

    assert ("100 mL", "1.26 g/mL", Fraction(126, 1000)) == (found.volume, found.density, found.mass)


@pytest.mark.parametrize(("mode", "amount"), [("", '"q.s."'), ("parts", '"q.s."'), ("mass", '"q.s."')])
def test_what_is_open_is_said_and_the_rest_computed(mode: str, amount: str, workspace: MakeWorkspace) -> None:
    rest = '"60 g"' if mode == "mass" else "60"
    found = composition(workspace, f"water = {rest}\nglycerin = {amount}", mode)

    assert found.is_open
    assert ["glycerin"] == [charge.ingredient for charge in found.unknown]
    assert (100 if mode else 60) == pcts(found)[0]


def test_a_volume_without_a_density_is_open(workspace: MakeWorkspace) -> None:
    bare = {"ingredients/glycerin.toml": 'title = "Glycerin"\n[substances]\n"Glycerin" = 100\n'}
    found = composition(workspace, 'water = "74 g"\nglycerin = "100 mL"', "mass", bare)

    assert ["glycerin"] == [charge.ingredient for charge in found.unknown]


@pytest.mark.parametrize(("amount", "left"), [("99.99", "0.01"), ("100", "0"), ("100.05", "-0.05")])
def test_what_is_left_for_the_balance_is_exact(amount: str, left: str, workspace: MakeWorkspace) -> None:
    found = composition(workspace, f'water = "to 100"\nglycerin = {amount}')

    assert (Fraction(left), Fraction(100)) == (found.residue, found.total)


def test_amounts_of_thirty_digits_are_not_rounded(workspace: MakeWorkspace) -> None:
    found = composition(workspace, "water = 99.9999999999999999999999999999\nglycerin = 0.0000000000000000000000000001")

    assert found.total == 100


def test_an_ingredient_in_two_phases_is_summed(workspace: MakeWorkspace) -> None:
    found = composition(workspace, "water = 60\n[phase.B.charge]\nwater = 40")

    assert {"water": Fraction(100)} == found.by_ingredient()
    assert Fraction(40) == found.pct("B/water")
