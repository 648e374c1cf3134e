"""The process walked: vessels, shares, adjustments, and what a charge lives through."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from formula_vcs.process.simulate import ProcessRun, run_process
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
CHARGES = (
    'title = "Cream"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5\nacid = 0.2\n'
    "[phase.B.charge]\noil = 20\nwax = 5\n"
)


def walked(workspace: MakeWorkspace, steps: str) -> ProcessRun:
    recipe = workspace({"cream.toml": CHARGES + steps}).recipe("cream")
    assert recipe is not None
    return run_process(recipe)


def seen(found: ProcessRun, key: str) -> list[tuple[str, str]]:
    return [(exposure.step.id, exposure.shear) for exposure in found.exposures.get(key, ())]


TWO_VESSELS = """
[[step]]
id    = "wet"
into  = "main"
add   = [{ what = "A/water", share = "80 %" }, "A"]
shear = "high"

[[step]]
id    = "melt"
into  = "side"
add   = ["B"]
shear = "low"

[[step]]
id    = "join"
into  = "main"
from  = "side"
shear = "medium"

[[step]]
id    = "rinse"
add   = [{ what = "A/water", share = "20 %" }]

[[step]]
id      = "set-pH"
measure = "pH"
adjust  = ["A/acid"]

[[step]]
id   = "overnight"
rest = "12 h"
"""


def test_everything_ends_in_one_vessel(workspace: MakeWorkspace) -> None:
    found = walked(workspace, TWO_VESSELS)

    assert [] == found.troubles
    assert ["main"] == found.full()
    assert {"A/water", "A/glycerin", "A/acid", "B/oil", "B/wax"} == set(found.vessels["main"])


def test_shares_add_up_and_a_phase_leaves_out_what_is_named(workspace: MakeWorkspace) -> None:
    found = walked(workspace, TWO_VESSELS)

    assert {Fraction(1)} == set(found.shares.values())
    assert ["wet", "rinse"] == [step.id for step in found.places["A/water"]]
    assert ["set-pH"] == [step.id for step in found.places["A/acid"]]


def test_a_charge_sees_every_step_its_vessel_is_worked_in(workspace: MakeWorkspace) -> None:
    found = walked(workspace, TWO_VESSELS)
    after = [("join", "medium"), ("rinse", "none"), ("set-pH", "none"), ("overnight", "none")]

    assert [("wet", "high"), *after] == seen(found, "A/glycerin")
    assert [("melt", "low"), *after] == seen(found, "B/oil")
    assert after[2:] == seen(found, "A/acid")


def test_a_step_without_a_vessel_works_in_the_one_that_is_full(workspace: MakeWorkspace) -> None:
    found = walked(workspace, '[[step]]\nid = "a"\ninto = "pot"\nadd = ["A"]\n[[step]]\nid = "b"\nadd = ["B"]\n')

    assert ["pot"] == found.full()


def test_with_two_full_vessels_it_has_to_say_which(workspace: MakeWorkspace) -> None:
    """Only the step is said; what it adds is not said to be left over as well."""
    steps = (
        '[[step]]\nid = "a"\ninto = "x"\nadd = ["A/water"]\n'
        '[[step]]\nid = "b"\ninto = "y"\nadd = ["B"]\n'
        '[[step]]\nid = "c"\nadd = ["A"]\n'
    )
    found = walked(workspace, steps)

    assert [("step-vessel", "c")] == [(trouble.rule, trouble.subject) for trouble in found.troubles]
    assert {"A/water", "A/glycerin", "A/acid", "B/oil", "B/wax"} == set(found.shares)


def test_what_a_step_names_and_there_is_not(workspace: MakeWorkspace) -> None:
    steps = '[[step]]\nid = "a"\ninto = "x"\nadd = ["A", "C", "A/salt"]\nfrom = ["y", "x"]\nadjust = ["A/base"]\n'

    assert ["a/from/y", "a/from/x", "a/add/C", "a/add/A/salt", "a/adjust/A/base"] == [
        trouble.subject for trouble in walked(workspace, steps).troubles
    ]


def test_a_vessel_that_was_emptied_is_worked_in_no_more(workspace: MakeWorkspace) -> None:
    steps = TWO_VESSELS + '[[step]]\nid = "late"\ninto = "side"\nshear = "high"\n'
    found = walked(workspace, steps)

    assert ["late/empty"] == [trouble.subject for trouble in found.troubles]
    assert ("late", "high") not in seen(found, "B/oil")
