"""What a recipe states of its kind of emulsion goes before what its emulsifiers suggest."""

from __future__ import annotations

import datetime

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Compute, Terms
from formula_vcs.figures.hlb import required_hlb
from formula_vcs.figures.ph import ph_estimate
from formula_vcs.figures.preservatives import free_acid
from formula_vcs.figures.substance_parts import parts_of
from formula_vcs.figures.water_activity import water_activity
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


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("figure", [water_activity, free_acid, ph_estimate])
def test_two_waters_are_no_water_phase(workspace: MakeWorkspace, figure: Compute, kind: str) -> None:
    """What is inside the drops and what is outside differ, and a recipe does not say how: no number is of either."""
    charges = "".join(f"m{place} = {pct}\n" for place, pct in enumerate((0.3, 0.1)))
    files = {
        "cream.toml": (
            f'title = "C"\nform = "emulsion"\nemulsion = "{kind}"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5\n'
            f'{charges}[spec]\npH = "4.4 to 4.6"\n'
        ),
        "ingredients/m0.toml": 'title = "B"\n[substances]\n"Sodium Benzoate" = 100\n',
        "ingredients/m1.toml": 'title = "L"\n[substances]\n"Lactic Acid" = 100\n',
    }
    snapshot = workspace(files)
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    found = figure(Breakdown(snapshot.formula(recipe)), TERMS)

    assert (kind == "W/O/W") is (found.value is None), found
    assert kind != "W/O/W" or "W/O/W: two water phases" in found.missing[0]
