"""Which figures a reviewer sees: priced, claimed, limited, specified, asked for, or really moved."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.diff.effects import Effect
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.model.formula import Formula
from formula_vcs.review.compare import compare
from formula_vcs.review.figure_weight import (
    ASKED,
    CLAIMED,
    LIMITED,
    MOVES,
    PRICED,
    SPECIFIED,
    UNCERTAINTY,
    asked_for,
    why_listed,
)
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
DRY = 'claims = ["natural-origin at least 95 % without water"]'
STEP = '\n[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'


def formula(workspace: MakeWorkspace, head: str = "", spec: str = "") -> Formula:
    text = f'title = "P"\n{head}\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5\n{STEP}\n{spec}'
    snapshot = workspace({"p.toml": text})
    recipe = snapshot.recipe("p")
    assert recipe is not None
    return snapshot.formula(recipe)


def effect(name: str, before: str | None, after: str | None) -> Effect:
    old, new = (Figure(name, None if value is None else Fraction(value), "%") for value in (before, after))
    return Effect(name, old, new)


@pytest.mark.parametrize(
    "row",
    [
        ("cost_per_kg", ("2", "2.0001"), "", "", PRICED),
        ("cost_per_pack", ("2", "2.0001"), "", "", PRICED),
        ("total", ("100", "99.99"), "", "", LIMITED),
        ("fluoride_ppm", ("1450", "1450.1"), "", "", LIMITED),
        ("natural_origin", ("97", "96.9"), 'claims = ["natural-origin at least 95 %"]', "", CLAIMED),
        ("natural_origin_without_water", ("97", "96.9"), 'claims = ["natural-origin at least 95 %"]', "", ""),
        ("natural_origin_without_water", ("97", "96.9"), DRY, "", CLAIMED),
        ("cosmos_nni", ("0.8", "0.9"), 'claims = ["cosmos-natural-4"]', "", CLAIMED),
        ("nop_organic", ("95", "95.1"), 'claims = ["nop-organic"]', "", CLAIMED),
        ("cosmos_nni", ("0.8", "0.9"), "", "", ""),
        ("natural", ("70", "71"), "", "", ""),
        ("natural", ("70", "71.01"), "", "", MOVES),
        ("water", ("70", "69"), "", "", ""),
        ("water", ("70", "68.99"), "", "", MOVES),
        ("density", ("1", "1.01"), "", "", ""),
        ("density", ("1", "1.0101"), "", "", MOVES),
        ("density_corrected", ("1", "1.001"), "", '[spec]\ndensity = "0.9 to 1.1 g/mL"', ""),
        ("density_corrected", ("1", "1.0011"), "", '[spec]\ndensity = "0.9 to 1.1 g/mL"', SPECIFIED),
        ("ph_estimate", ("5", "5.02"), "", '[spec]\npH = "4 to 6"', ""),
        ("ph_estimate", ("5", "5.03"), "", '[spec]\npH = "4 to 6"', SPECIFIED),
        ("ph_estimate", ("5", "5.2"), "", "", ""),
        ("ph_estimate", ("5", "5.21"), "", "", MOVES),
        ("water_activity", ("0.95", "0.96"), "", "", ""),
        ("water_activity", ("0.95", "0.9601"), "", "", MOVES),
        ("free_acid", ("0.1", "0.105"), "", "", ""),
        ("free_acid", ("0.1", "0.1051"), "", "", MOVES),
        ("active_matter", ("10", "10.1"), "", "", ""),
        ("active_matter", ("10", "10.11"), "", "", MOVES),
        ("emulsifier_hlb", ("10", "11"), "", "", ""),
        ("emulsifier_hlb", ("10", "11.1"), "", "", MOVES),
        ("density", ("1", None), "", "", MOVES),
        ("density", (None, "1"), "", "", MOVES),
    ],
)  # fmt: skip
def test_why_a_figure_is_listed(
    row: tuple[str, tuple[str | None, str | None], str, str, str], workspace: MakeWorkspace
) -> None:
    name, move, head, spec, why = row
    side = formula(workspace, head, spec)

    assert why == why_listed(effect(name, *move), side, side)


def test_the_range_of_an_estimate_is_its_uncertainty(workspace: MakeWorkspace) -> None:
    """Where a figure says how far off it may be, half of the wider range counts, and not the table."""
    side = formula(workspace)
    old, new = (
        Figure("ph_estimate", Fraction(value), "", span=(Fraction(value) - 1, Fraction(value) + 1), estimate=True)
        for value in ("5", "6")
    )

    assert "" == why_listed(Effect("ph_estimate", old, new), side, side)


def test_a_claim_on_either_side_counts(workspace: MakeWorkspace) -> None:
    claims = formula(workspace, 'claims = ["organic at least 5 %"]')

    assert CLAIMED == why_listed(effect("organic", "6", "5.9"), claims, formula(workspace))


def test_asked_for_by_name(workspace: MakeWorkspace) -> None:
    del workspace
    found = {"water": "", "natural": "", "cost_per_kg": PRICED}

    assert {"water": ASKED, "natural": "", "cost_per_kg": PRICED} == asked_for(found, ["water"])
    assert {"water": ASKED, "natural": ASKED, "cost_per_kg": PRICED} == asked_for(found, ["all"])


def test_every_figure_that_is_not_priced_or_limited_has_an_uncertainty() -> None:
    always = {"total", "cost_per_kg", "cost_per_pack", "fluoride_ppm"}

    assert set(FIGURES) - always == set(UNCERTAINTY)


def test_a_review_says_it_of_each_figure_that_moved(workspace: MakeWorkspace) -> None:
    text = f'title = "P"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5\n{STEP}'
    found = compare(
        workspace({"p.toml": text}), workspace({"p.toml": text.replace("= 5", "= 4.9")}),
        Terms(datetime.date(2026, 6, 1)),
    )  # fmt: skip
    review = next(one for one in found.reviews if one.recipe == "p")

    assert {one.figure for one in review.effects} == set(review.listed)
    assert PRICED == review.listed["cost_per_kg"]
    assert "" == review.listed["water"] == review.listed["density"]
