"""What a recipe states of its kind of emulsion goes before what its emulsifiers suggest."""

from __future__ import annotations

import datetime

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.hlb import required_hlb
from formula_vcs.figures.substance_parts import parts_of
from formula_vcs.model.product import KINDS
from tests.conftest import MakeWorkspace

TERMS = Terms(datetime.date(2026, 11, 30))
FILES = {
    "ingredients/oil.toml": (
        'title = "Oil"\nfunctions = ["emollient"]\nrequired_hlb = 11\n[substances]\n"Squalane" = 100\n'
    ),
    "ingredients/holder.toml": 'title = "H"\n[substances]\n"Polyglyceryl-3 Polyricinoleate" = 100\n',
}


def cream(workspace: MakeWorkspace, kind: str, holder: str) -> Breakdown:
    head = f'title = "C"\nform = "emulsion"\n{kind}[phase.A.charge]\nwater = "to 100"\noil = 20\nholder = {holder}\n'
    snapshot = workspace({**FILES, "cream.toml": head})
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    return Breakdown(snapshot.formula(recipe))


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_stated_goes_first(workspace: MakeWorkspace, kind: str) -> None:
    sums = cream(workspace, f'emulsion = "{kind}"\n', "3" if kind == "O/W" else "0.01")

    assert (kind != "O/W") is parts_of(sums).water_in_oil
    found = required_hlb(sums, TERMS)
    assert (11 if kind == "O/W" else None) == found.value
    assert kind == "O/W" or found.missing[0].endswith(f"and this one is {kind}")


@pytest.mark.parametrize(("holder", "in_oil"), [("0.5", True), ("0.49", False)])
def test_where_nothing_is_stated_the_emulsifiers_say_it(workspace: MakeWorkspace, holder: str, in_oil: bool) -> None:
    sums = cream(workspace, "", holder)

    assert in_oil is parts_of(sums).water_in_oil
    assert 11 == required_hlb(sums, TERMS).value
