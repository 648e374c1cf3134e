"""COSMOS shares: nothing physically processed, and classes that are no shares of the material."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest

from formula_vcs.diff.counterfactuals import all_findings
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import figures
from formula_vcs.figures.standards import NAMES, NO_PPAI
from formula_vcs.workspace.snapshot import Snapshot
from tests.conftest import MakeWorkspace

DAY = datetime.date(2026, 6, 1)


def material(cosmos: str) -> str:
    return f'title = "Soap base"\n\n[substances]\n"Sodium Olivate" = 100\n\n[cosmos]\n{cosmos}\n'


def cream(workspace: MakeWorkspace, one: str, other: str, pct: object = 30) -> Snapshot:
    """Make a cream of two materials, the first at some %."""
    recipe = (
        'title = "Cream"\nproduct = "hand cream"\nclaims = ["cosmos-organic-4"]\n\n[phase.A.charge]\n'
        f'two = "to 100"\none = {pct}\n\n[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'
    )
    files = {"cream.toml": recipe, "ingredients/one.toml": material(one), "ingredients/two.toml": material(other)}
    return workspace(files)


def known(snapshot: Snapshot) -> dict[str, Figure]:
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    return figures(Breakdown(snapshot.formula(recipe)), Terms(DAY), NAMES)


def claims(snapshot: Snapshot) -> list[tuple[str, str]]:
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    found = all_findings(snapshot.formula(recipe), DAY)
    return [(finding.severity, finding.message) for finding in found if finding.rule.startswith("claim")]


@pytest.mark.parametrize(("pct", "words"), [("20", ""), ("19.99", "organic share of the product is 19.99 %")])
def test_without_anything_physically_processed_its_rule_does_not_apply(
    workspace: MakeWorkspace, pct: str, words: str
) -> None:
    """Organic chemically processed material alone: 20 % of the product are asked, and 95 % of nothing are not."""
    snapshot = cream(workspace, "cpai = 100\ncpai_organic = 100", "cpai = 100\ncpai_organic = 0", pct)
    share = known(snapshot)["cosmos_ppai_organic_share"]

    assert (None, (), (NO_PPAI,)) == (share.value, share.missing, share.basis)
    found = [message for severity, message in claims(snapshot) if severity == "block"]
    assert bool(words) == bool(found)
    assert all(words in message and "physically" not in message for message in found)


def test_a_trace_of_something_physically_processed_brings_the_rule_back(workspace: MakeWorkspace) -> None:
    snapshot = cream(workspace, "ppai = 1\nppai_organic = 0.94\ncpai = 99\ncpai_organic = 99", "mineral = 100", 30)

    assert Fraction(94) == known(snapshot)["cosmos_ppai_organic_share"].value
    assert any("organic share of what is physically processed is 94.00 %" in message for _, message in claims(snapshot))


@pytest.mark.parametrize(
    ("cosmos", "why"),
    [
        ("cpai = 20", "its [cosmos] classes add up to 20 %, not to 100 %"),
        ("cpai = 60\nmineral = 40.5", "its [cosmos] classes add up to 100.5 %, not to 100 %"),
        ('cpai = 100\nnni = "x"', "nni in [cosmos] cannot be read"),
    ],
)
def test_classes_that_are_no_shares_give_no_figure(workspace: MakeWorkspace, cosmos: str, why: str) -> None:
    found = known(cream(workspace, cosmos, "mineral = 100", 30))

    for name in set(NAMES) - {"cosmos_ppai_organic_share"}:
        assert (None, True) == (found[name].value, f"one: {why}" in found[name].missing), name


def test_classes_that_add_up_give_all_figures(workspace: MakeWorkspace) -> None:
    found = known(cream(workspace, "cpai = 59.5\nmineral = 40.5\ncpai_organic = 0", "mineral = 100", 30))

    assert Fraction(100) == found["cosmos_natural_origin"].value
    assert Fraction("82.15") == found["cosmos_mineral"].value
