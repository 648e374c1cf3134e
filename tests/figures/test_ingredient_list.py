"""The ingredient list."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.ingredient_list import label
from formula_vcs.words.numbers import exact_text
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]


def listed(snapshot: Snapshot, market: str = "EU") -> list[tuple[str, str, str]]:
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    return [(x.inci, exact_text(x.pct), x.part) for x in label(Breakdown(snapshot.formula(recipe)), market)]


def material(inside: str, functions: str = "") -> str:
    return f'title = "M"\n{functions}\n[substances]\n{inside}\n'


def test_names_are_merged_over_materials_and_premixes(workspace: MakeWorkspace) -> None:
    """Glycerin comes as such, as a solution with water, and in a premix; water under three of its names."""
    found = listed(
        workspace(
            {
                "ingredients/glycerin-86.toml": material('"GLYCERIN" = 86\n"Aqua/Water" = 14'),
                "made.toml": 'title = "P"\nproduct = "premix"\n[phase.A.charge]\nwater = 50\nglycerin = 50\n',
                "ingredients/half.toml": 'title = "Half"\nrecipe = "made"\n',
                "cream.toml": (
                    'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 2\nglycerin-86 = 10\nhalf = 4\n'
                ),
            }
        )
    )

    assert [("Aqua", "87.4", "ordered"), ("Glycerin", "12.6", "ordered")] == found


@pytest.mark.parametrize(
    ("market", "pct", "part"),
    [
        ("EU", "1.00", "ordered"),
        ("EU", "0.99", "free"),
        ("EU", "0.999999999999", "free"),
        ("US", "1.00", "free"),  # "not above 1 %"
        ("US", "1.01", "ordered"),
    ],
)
def test_below_one_percent_the_order_is_free(market: str, pct: str, part: str, workspace: MakeWorkspace) -> None:
    cream = f'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\nglycerin = {pct}\n'

    assert part == listed(workspace({"cream.toml": cream}), market)[1][2]


def test_colorants_come_last(workspace: MakeWorkspace) -> None:
    """By their CI number, or from a material whose function it is; the carrier of a colorant is none."""
    found = listed(
        workspace(
            {
                "ingredients/iron.toml": material('"CI 77491" = 100'),
                "ingredients/beet.toml": material(
                    '"Beta Vulgaris Root Extract" = 60\n"Glycerin" = 40', 'functions = ["colorant"]'
                ),
                "cream.toml": (
                    'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5\niron = 20\nbeet = 1\n'
                ),
            }
        )
    )

    assert [
        ("Aqua", "74", "ordered"),
        ("Glycerin", "5.4", "ordered"),
        ("CI 77491", "20", "colorant"),
        ("Beta Vulgaris Root Extract", "0.6", "colorant"),
    ] == found


def test_equal_shares_stand_by_name(workspace: MakeWorkspace) -> None:
    files = {f"ingredients/{name}.toml": material(f'"{name.title()}" = 100') for name in ("zinc", "alum", "mica")}
    cream = 'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\n{}'
    orders = [
        listed(workspace({**files, "cream.toml": cream.format("".join(f"{name} = 3\n" for name in names))}))
        for names in (("zinc", "alum", "mica"), ("mica", "zinc", "alum"))
    ]

    assert orders[0] == orders[1]
    assert ["Aqua", "Alum", "Mica", "Zinc"] == [name for name, _, _ in orders[0]]


def test_what_is_not_in_it_is_not_listed(workspace: MakeWorkspace) -> None:
    cream = 'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 0.00\n'

    assert [("Aqua", "100", "ordered")] == listed(workspace({"cream.toml": cream}))
