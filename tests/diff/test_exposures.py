"""Derived changes of the process: exposures with numbers, reorders that do nothing, free acid, equipment."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import Change
from formula_vcs.diff.diff import diff
from formula_vcs.diff.exposures import told_once
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.conftest import MakeWorkspace
from tests.helpers_demo import RECIPES, Edit, demo, step

POLISH = "face-polish.toml"
TEXT = (RECIPES / POLISH).read_text("utf-8")
FOLD = step(TEXT, "fold-polish")
ROTOR = "equipment/plant-rotor-stator.toml"


def changes(recipe: str, *edits: Edit, more: dict[str, str] | None = None) -> tuple[Change, ...]:
    """Diff a recipe of the demo against itself with edits, and hold that the diff makes the new one."""
    old, new = demo(recipe), demo(recipe, *edits, more=more)
    found = diff(old, new)
    assert apply(old, found) == new
    assert apply(new, diff(new, old)) == old
    return found


def test_a_milled_grade() -> None:
    rough = (
        FOLD.replace('"fold"', '"high"').replace("anchor-vessel", "plant-rotor-stator").replace("14 rpm", "4000 rpm")
    )
    found = changes("face-polish", (POLISH, FOLD, rough.replace("20 min", "8 min")))

    assert (
        "silica-polishing (C), Hydrated silica, polishing grade: was low shear only, now 8 min at high shear "
        "(tip speed 18.8 m/s, gap shear 37,700 1/s) in step 'fold-polish'"
    ) in [change.text for change in found if change.kind == "exposure"]


def test_equipment_moves_under_an_untouched_recipe() -> None:
    found = changes("face-polish", (ROTOR, '"90 mm"', '"120 mm"'))

    assert "equipment 'plant-rotor-stator', rotor: 90 mm \u2192 120 mm" in [change.text for change in found]
    exposure = next(change for change in found if change.where.endswith("silica-thickening"))
    assert "tip speed 15.1 m/s" in exposure.text
    assert "tip speed 20.1 m/s" in exposure.text


def test_equipment_is_swapped() -> None:
    found = changes("face-polish", (POLISH, FOLD, FOLD.replace("anchor-vessel", "side-kettle")))
    swap = next(change for change in found if change.where == "step/fold-polish/mixer")

    assert {"equipment:side-kettle"} == set(swap.brings)


def test_a_rotor_under_an_untouched_mode_shows_by_its_numbers() -> None:
    rotor = FOLD.replace("anchor-vessel", "plant-rotor-stator").replace("14 rpm", "3000 rpm")
    found = changes("face-polish", (POLISH, FOLD, rotor))

    assert (
        "silica-polishing (C), Hydrated silica, polishing grade: was low shear only, now 20 min at high shear by its "
        "numbers (tip speed 14.1 m/s, gap shear 28,300 1/s) in step 'fold-polish'"
    ) in [change.text for change in found if change.kind == "exposure"]


def test_a_grade_that_is_opened_no_more_says_what_it_saw_in_full() -> None:
    opened = step(TEXT, "open-silica")
    found = changes("face-polish", (POLISH, opened, opened.replace('"high"', '"medium"').replace("3200", "600")))
    text = next(change.text for change in found if change.where.endswith("silica-thickening"))

    assert "was 12 min at high shear (tip speed 15.1 m/s, gap shear 30,200 1/s) in step 'open-silica', now" in text
    assert "only" not in text


def test_an_equipment_file_that_does_not_parse() -> None:
    found = changes("face-polish", (ROTOR, "title ", "title title "))

    assert ["equipment 'plant-rotor-stator': its file does not parse any more"] == [
        change.text for change in found if not change.derived
    ]


def test_side_vessel_work_in_another_order_changes_nothing() -> None:
    """The gum may be wetted before or after the water is drawn: nobody lives through anything else."""
    water = step(TEXT, "draw-water")
    wet = step(TEXT, "wet-gum")
    found = changes("face-polish", (POLISH, wet + water, water + wet))

    assert ["the reorder of steps changes what no charge lives through and breaks no rule"] == [
        change.text for change in found if change.kind == "exposure"
    ]


def test_a_reorder_that_breaks_a_rule_says_so() -> None:
    """The gum goes into an empty pot: it lives through the same, but is not wetted."""
    pour, wet = step(TEXT, "pour-humectant"), step(TEXT, "wet-gum")
    found = changes("face-polish", (POLISH, pour + wet, wet + pour))
    (words,) = (change.text for change in found if change.kind == "exposure")

    assert "glycerin" in words


def test_a_reorder_that_concerns_charges_names_them() -> None:
    clay = step(TEXT, "add-clay")
    found = changes("face-polish", (POLISH, clay + FOLD, FOLD + clay))
    words = [change.text for change in found if change.where == "step-order"]

    assert ["silica-polishing" in text for text in words] == [True]


def test_free_acid_before_and_after() -> None:
    found = changes(
        "face-toner",
        ("face-toner.toml", '"4.7 to 5.1"', '"5.2 to 5.6"'),
        ("face-toner.toml", '"4.7 to 5.1"', '"5.2 to 5.6"'),
    )

    assert [
        f"free {acid} acid at the highest pH of the spec: {moved} % of the water phase (pH 5.1 \u2192 5.6; estimate)"
        for acid, moved in (("benzoic", "0.051 \u2192 0.017"), ("sorbic", "0.069 \u2192 0.028"))
    ] == [change.text for change in found if change.where.startswith("spec/pH/")]
    assert all(change.derived for change in found if change.kind == "exposure")


def test_a_new_step_brings_its_equipment() -> None:
    added = (
        '[[step]]\nid    = "again"\ninto  = "main"\nshear = "low"\nmixer = "side-kettle"\nspeed = "60 rpm"\n\n[spec]'
    )
    found = changes("face-polish", (POLISH, "[spec]", added))

    assert any("equipment:side-kettle" in change.brings for change in found)


def test_a_file_that_appears_under_a_step_that_named_it() -> None:
    old = demo("face-polish", (POLISH, FOLD, FOLD.replace("anchor-vessel", "new-tool")))
    new = demo(
        "face-polish",
        (POLISH, FOLD, FOLD.replace("anchor-vessel", "new-tool")),
        more={"equipment/new-tool.toml": 'title = "New"\nkind = "stirrer"\n'},
    )
    found, back = diff(old, new), diff(new, old)

    assert ["equipment 'new-tool': its file is there now"] == [change.text for change in found if not change.derived]
    assert ["equipment 'new-tool': its file is gone"] == [change.text for change in back if not change.derived]
    assert apply(old, found) == new
    assert apply(new, back) == old


def test_free_acid_stays_where_only_the_lowest_ph_moved() -> None:
    text = (RECIPES / "hand-cream.toml").read_text("utf-8")
    line = next(line for line in text.splitlines() if line.startswith("pH "))
    high = line.split('"')[1].split(" to ")[1]
    found = changes("hand-cream", ("hand-cream.toml", line, f'pH = "4.0 to {high}"'))
    assert ["spec:spec/pH"] == [change.id for change in found]


CREAM = """\
title = "Cream"
product = "hand cream"

[phase.A.charge]
water = "to 100"
glycerin = 5.00

[[step]]
id    = "join"
into  = "main"
add   = ["A"]
shear = "high"
mixer = "head"
speed = "6000 rpm"
"""
HEAD = 'title = "Head"\nkind = "rotor-stator"\nrotor = "60 mm"\nspeed = "1000 to 10000 rpm"\n'


def shears(workspace: MakeWorkspace, new: Mapping[str, str | None]) -> list[tuple[str, str]]:
    """Give the exposure lines between the cream and the same with files changed; nothing in it states [handling]."""
    files: dict[str, str] = {"cream.toml": CREAM, "equipment/head.toml": HEAD}
    formulas = []
    for snapshot in (workspace(files), workspace({**files, **new})):
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        formulas.append(snapshot.formula(recipe))
    found = diff(*formulas)
    assert apply(formulas[0], found) == formulas[1]
    return [(change.where, change.text) for change in found if change.kind == "exposure"]


@pytest.mark.parametrize(
    ("new", "now"),
    [
        (
            {
                "cream.toml": CREAM.replace('"head"', '"head-two"'),
                "equipment/head-two.toml": HEAD.replace("60 mm", "90 mm"),
            },
            "tip speed 28.3 m/s",
        ),
        ({"equipment/head.toml": HEAD.replace("60 mm", "110 mm")}, "tip speed 34.6 m/s"),
        ({"cream.toml": CREAM.replace("6000", "3000")}, "tip speed 9.42 m/s"),
        ({"equipment/head.toml": HEAD.replace('rotor = "60 mm"\n', "")}, "shear not known"),
    ],
)
def test_shear_that_no_material_asks_about_is_told_by_its_step(
    workspace: MakeWorkspace, new: dict[str, str | None], now: str
) -> None:
    """Pi * 0.060 m * 100 1/s = 18.8 m/s; 90 mm: 28.3; 110 mm: 34.6."""
    assert [("step/join", f"step 'join': tip speed 18.8 m/s \u2192 {now}")] == shears(workspace, new)


def test_a_step_that_shears_as_before_is_not_told(workspace: MakeWorkspace) -> None:
    assert [] == shears(workspace, {"cream.toml": CREAM.replace("5.00", "6.00")})
    assert [] == shears(workspace, {"equipment/head.toml": HEAD.replace('"Head"', '"Head, old"')})


def test_a_material_that_asks_is_told_instead_of_the_step(workspace: MakeWorkspace) -> None:
    """The line of the charge has both numbers already."""
    gum = 'title = "Gum"\n\n[substances]\n"Xanthan Gum" = 100\n\n[handling]\nshear_at_least = "high"\n'
    cream = CREAM.replace("glycerin = 5.00", "gum = 0.30")
    files = {"cream.toml": cream, "ingredients/gum.toml": gum}
    old, new = (workspace({**files, "equipment/head.toml": text}) for text in (HEAD, HEAD.replace("60", "90")))
    recipes = [snapshot.recipe("cream") for snapshot in (old, new)]
    assert None not in recipes
    found = diff(*(snapshot.formula(recipe) for snapshot, recipe in zip((old, new), recipes, strict=True) if recipe))

    assert ["phase/A/charge/gum"] == [change.where for change in found if change.kind == "exposure"]


def test_the_step_of_a_premix_is_told_too(workspace: MakeWorkspace) -> None:
    gel = CREAM.replace('"hand cream"', '"premix"').replace('title = "Cream"', 'title = "Gel"')
    cream = 'title = "Cream"\nproduct = "hand cream"\n\n[phase.A.charge]\ngel = "to 100"\n'
    files = {"cream.toml": cream, "gel.toml": gel, "ingredients/gel.toml": 'title = "Gel"\nrecipe = "gel"\n'}
    found = []
    for text in (HEAD, HEAD.replace("60 mm", "90 mm")):
        snapshot = workspace({**files, "equipment/head.toml": text})
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        found.append(snapshot.formula(recipe))
    told = [(change.where, change.text) for change in diff(*found) if change.kind == "exposure"]

    words = "premix 'gel', step 'join': tip speed 18.8 m/s \u2192 tip speed 28.3 m/s"
    assert [("premix/gel/step/join", words)] == told


def _seen_otherwise(old: str, new: str, names: tuple[str, ...] = ("fine", "coarse", "glycerin")) -> list[str]:
    """Say what follows for charges that ask for something, of one step that changed."""
    care = '[handling]\nshear_at_most = "high"\n'
    files = {f"ingredients/{name}.toml": f'title = "{name}"\n[substances]\n"{name}" = 100\n{care}' for name in names}
    charges = "\n".join(f"{name} = 1" for name in names)
    text = f'title = "P"\n[phase.A.charge]\n{charges}\n[[step]]\nid = "salt"\ninto = "main"\nadd = ["A"]\n{{}}\n'
    formulas = []
    for made in (old, new):
        snapshot = Snapshot(Files({"workspace.toml": 'title = "W"\n', **files, "p.toml": text.format(made)}))
        recipe = snapshot.recipe("p")
        assert recipe is not None
        formulas.append(snapshot.formula(recipe))
    derived = [change for change in diff(*formulas) if change.derived]
    return [told.text for told in told_once(derived)]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('shear = "low"\ntime = "10 min"', 'shear = "low"\ntime = "20 min"', "low shear 10 min longer in 'salt'"),
        ('shear = "low"\ntime = "20 min"', 'shear = "low"\ntime = "15 min"', "low shear 5 min shorter in 'salt'"),
        (
            'shear = "low"\ntime = "10 min"', 'shear = "medium"\ntime = "10 min"',
            "10 min at medium shear in step 'salt', before low shear only",
        ),
        (
            'shear = "low"\ntime = "10 min"', 'shear = "low"\ntime = "1 h"',
            "1 h at low shear in step 'salt', before 10 min at low shear",
        ),
        (
            'shear = "low"\ntime = "10 min"', 'shear = "low"\ntime = "10 to 20 min"',
            "10 to 20 min at low shear in step 'salt', before 10 min at low shear",
        ),
        (
            'shear = "low"\ntime = "10 min"\nspeed = "30 rpm"', 'shear = "low"\ntime = "20 min"\nspeed = "40 rpm"',
            "20 min at low shear (40 rpm) in step 'salt', before 10 min at low shear (30 rpm)",
        ),
    ],
)  # fmt: skip
def test_what_a_step_brings_to_all_charges_is_said_once(old: str, new: str, words: str) -> None:
    assert [f"3 charges see {words}"] == _seen_otherwise(old, new)
    assert [f"fine (A) sees {words}"] == _seen_otherwise(old, new, ("fine",))
    assert [f"fine (A), coarse (A) see {words}"] == _seen_otherwise(old, new, ("fine", "coarse"))
