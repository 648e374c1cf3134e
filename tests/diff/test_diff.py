"""What a diff says of each kind of change, in the chemist's words."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from formula_vcs.diff.change import Change
from formula_vcs.diff.diff import diff
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]

CREAM = """title = "Cream"
claims = ["natural at least 95 %"]

[phase.A]
title = "Water phase"

[phase.A.charge]
water       = "to 100"
glycerin    = 4.00
silica-fine = 0.50
acid        = { pct = 0.20, for = "pH", at_most = 0.40 }

[phase.B.charge]
oil = 20.00

[[step]]
id    = "wet"
into  = "main"
add   = ["A", { what = "A/silica-fine", share = "100 %" }]
shear = "low"
time  = "8 min"

[[step]]
id    = "melt"
into  = "main"
add   = ["B"]
shear = "low"
speed = "300 rpm"

[[step]]
id      = "set-pH"
measure = "pH"
accept  = "4.8 to 5.4"
adjust  = ["A/acid"]

[spec]
pH = "4.8 to 5.4"
"""
SILICA = 'title = "{}"\n[substances]\n"Hydrated Silica" = 100\n[handling]\nshear_at_most = "{}"\n'
FILES = {
    "cream.toml": CREAM,
    "ingredients/oil.toml": (
        'title = "Oil"\n[substances]\n"Olea Europaea Fruit Oil" = 100\n[[price]]\ncost = "8.40 EUR/kg"\n'
    ),
    "ingredients/acid.toml": 'title = "Acid 50"\nrecipe = "acid-made"\n',
    "ingredients/citric.toml": 'title = "Citric"\n[substances]\n"Citric Acid" = 100\n',
    "acid-made.toml": 'title = "Acid"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\ncitric = 50\n',
    "ingredients/silica-fine.toml": SILICA.format("Fine", "medium"),
    "ingredients/silica-coarse.toml": SILICA.format("Coarse", "low"),
}


def changes(workspace: MakeWorkspace, *edits: tuple[str, str, str]) -> list[tuple[str, str]]:
    return [(change.id, change.text) for change in _changes(workspace, *edits)]


def _changes(workspace: MakeWorkspace, *edits: tuple[str, str, str]) -> tuple[Change, ...]:
    files = dict(FILES)
    for file, old, new in edits:
        assert old in files[file]
        files[file] = files[file].replace(old, new, 1)
    sides = []
    for texts in (FILES, files):
        snapshot = workspace(texts)
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        sides.append(snapshot.formula(recipe))
    return diff(*sides)


C = "cream.toml"
BALANCE = "balance:phase/A/charge/water"


@pytest.mark.parametrize(
    ("edits", "expected"),
    [
        pytest.param(
            [(C, "4.00", "5.00")],
            [
                ("amount:phase/A/charge/glycerin", "glycerin (A): 4.00 → 5.00 %, +1.00 points (+25 % of it)"),
                (BALANCE, "water (A, the balance): 75.30 → 74.30 %, \u22121.00 points"),
            ],
            id="amount",
        ),
        pytest.param(
            [(C, "at_most = 0.40", "at_most = 0.50")],
            [("amount:phase/A/charge/acid/at_most", "acid (A): at most: 0.40 → 0.50")],
            id="bound",
        ),
        pytest.param(
            [(C, "glycerin    = 4.00\n", "")],
            [
                ("removed:phase/A/charge/glycerin", "glycerin (A): removed, was 4.00 %"),
                (BALANCE, "water (A, the balance): 75.30 → 79.30 %, +4.00 points"),
            ],
            id="removed",
        ),
        pytest.param(
            [(C, "oil = 20.00", "oil = 20.00\ncitric = 1.50")],
            [
                ("added:phase/B/charge/citric", "citric (B): added, 1.50 %"),
                (BALANCE, "water (A, the balance): 75.30 → 73.80 %, \u22121.50 points"),
            ],
            id="added",
        ),
        pytest.param(
            [(C, "glycerin    = 4.00\n", ""), (C, "oil = 20.00", "oil = 20.00\nglycerin = 4.00")],
            [("moved:phase/A/charge/glycerin", "glycerin: moved from phase A to B, 4.00 %")],
            id="moved",
        ),
        pytest.param(
            [(C, "silica-fine = 0.50", "silica-coarse = 0.50"), (C, "A/silica-fine", "A/silica-coarse")],
            [
                (
                    "grade-swap:phase/A/charge/silica-fine",
                    "silica-fine → silica-coarse (A): another grade of Hydrated Silica, 0.50 %",
                ),
                (
                    "exposure:phase/A/charge/silica-coarse",
                    (
                        "silica-coarse (A), Coarse: was not there, now 8 min at low shear in step 'wet' and "
                        "low shear (300 rpm) in step 'melt'"
                    ),
                ),
            ],
            id="grade-swap",
        ),
        pytest.param(
            [(C, "oil = 20.00", "oil = 15.00\n[phase.C.charge]\noil = 5.00")],
            [("split:phase/B/charge/oil", "oil: split, 20.00 % in B → 15.00 % in B, 5.00 % in C")],
            id="split",
        ),
        pytest.param(
            [(C, "[spec]", '[[step]]\nid = "rest"\nrest = "12 h"\n\n[spec]')],
            [("step-added:step/rest", "step 'rest': added, after 'set-pH'")],
            id="step-added",
        ),
        pytest.param(
            [(C, 'measure = "pH"', 'measure = "pH"\ntime = "5 min"')],
            [("step-changed:step/set-pH/time", "step 'set-pH', time: now 5 min")],
            id="step-changed",
        ),
        pytest.param(
            [(C, 'pH = "4.8 to 5.4"', 'pH = "4.5 to 5.0"')],
            [("spec:spec/pH", "spec pH: 4.8 to 5.4 → 4.5 to 5.0")],
            id="spec",
        ),
        pytest.param(
            [(C, "95 %", "99 %")],
            [("claim:claim/natural at least 95 %", "claim: natural at least 95 % → natural at least 99 %")],
            id="claim",
        ),
        pytest.param(
            [(C, 'title = "Cream"', 'title = "Rich cream"')],
            [("header:title", "title: Cream → Rich cream")],
            id="header",
        ),
        pytest.param(
            [("ingredients/oil.toml", "8.40", "9.10")],
            [("price:ingredient/oil/price", "oil, price: 8.40 → 9.10 EUR/kg (+8.3 %)")],
            id="price",
        ),
        pytest.param(
            [("ingredients/oil.toml", "[[price]]", "[origin]\nnatural = 1\n[[price]]")],
            [("ingredient:ingredient/oil/origin/natural", "oil, natural index: now 1")],
            id="ingredient",
        ),
        pytest.param(
            [("acid-made.toml", "citric = 50", "citric = 40")],
            [
                (
                    "premix:premix/acid-made/phase/A/charge/citric",
                    "premix 'acid-made': citric (A): 50 → 40 %, \u221210.00 points (\u221220 % of it)",
                )
            ],
            id="premix",
        ),
        pytest.param(
            [
                (
                    C,
                    "[spec]",
                    '[[accept]]\nrule = "shear-at-least"\nabout = "oil"\nwhy = "wanted"\nuntil = 2027-01-31\n\n[spec]',
                )
            ],
            [
                (
                    "accept:accept/shear-at-least/oil",
                    "accepted: 'shear-at-least' about 'oil': now wanted (until 2027-01-31)",
                )
            ],
            id="accept",
        ),
        pytest.param(
            [(C, 'title = "Cream"', 'titel = "Cream"')],
            [
                ("other:title", "title: Cream → nothing"),
                ("other:titel", "titel: nothing → Cream"),
            ],
            id="other",
        ),
        pytest.param(
            [(C, 'title = "Water phase"', 'title = "Gum phase"')],
            [("other:phase/A/title", "phase A title: Water phase → Gum phase")],
            id="phase title",
        ),
    ],
)
def test_words(edits: list[tuple[str, str, str]], expected: list[tuple[str, str]], workspace: MakeWorkspace) -> None:
    assert expected == changes(workspace, *edits)


def test_a_step_that_is_reordered_is_one_change(workspace: MakeWorkspace) -> None:
    melt = CREAM[CREAM.index('[[step]]\nid    = "melt"') : CREAM.index('[[step]]\nid      = "set-pH"')]
    found = changes(workspace, (C, melt, ""), (C, "[spec]", f"{melt}[spec]"))

    assert [
        ("step-moved:step/set-pH", "step 'set-pH': after 'melt' → after 'wet'"),
        (
            "exposure:step-order",
            "the reorder of steps: 5 charges go through the process otherwise: silica-fine, water, glycerin, acid, oil",
        ),
    ] == found


def test_shear_shows_what_a_sensitive_grade_lives_through(workspace: MakeWorkspace) -> None:
    """The exposure follows from the step, so it is derived: shown, and never applied."""
    found = _changes(workspace, (C, 'shear = "low"\ntime', 'shear = "high"\ntime'))

    assert ["step-changed", "exposure"] == [change.kind for change in found]
    assert [False, True] == [change.derived for change in found]
    assert "silica-fine (A), Fine: was low shear only, now 8 min at high shear in step 'wet'" == found[1].text


@pytest.mark.parametrize(
    "edit",
    [
        (C, "4.00", "4.0"),
        (C, "0.20", "0.2000"),
        (C, '"8 min"', '"480 s"'),
        (C, '"4.8 to 5.4"', '"4.80 to 5.40"'),
        (C, 'share = "100 %"', 'share = "1000 permille"'),
        (C, "[spec]", "# a remark\n\n[spec]   # so"),
        (C, "oil = 20.00", "oil   =   20"),
        ("ingredients/oil.toml", "8.40 EUR/kg", "0.0084 EUR/g"),
    ],
)
def test_spelling_and_layout_are_no_change(edit: tuple[str, str, str], workspace: MakeWorkspace) -> None:
    assert [] == changes(workspace, edit)


def test_a_charge_moved_and_changed_inside_a_premix_is_two_changes(workspace: MakeWorkspace) -> None:
    """Both are of the kind `premix`, and each has an id of its own."""
    found = changes(
        workspace,
        ("acid-made.toml", "citric = 50", "[phase.B.charge]\ncitric = 40"),
    )

    assert [
        "premix:premix/acid-made/phase/A/charge/citric/place",
        "premix:premix/acid-made/phase/A/charge/citric",
    ] == [name for name, _ in found]
