"""Two moments of a workspace compared: which recipes show, and why."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Comparison, compare
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
TERMS = Terms(datetime.date(2026, 6, 1))
STEP = '\n[[step]]\nid = "mix"\nadd = ["A"]\nshear = "low"\n'
OIL = 'title = "Oil"\n[substances]\n"Olea Europaea Fruit Oil" = 100\n[[price]]\ncost = "8.40 EUR/kg"\n'
FILES = {
    "gel.toml": f'title = "Gel"\n[phase.A.charge]\nwater = "to 100"\nsolution = 10{STEP}',
    "paste.toml": f'title = "Paste"\n[phase.A.charge]\nwater = "to 100"\nsyrup = 10{STEP}',
    "oil.toml": f'title = "Body oil"\n[phase.A.charge]\noil = 100{STEP}',
    "half.toml": f'title = "Half"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 50{STEP}',
    "thick.toml": f'title = "Thick"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\nsolution = 50{STEP}',
    "ingredients/solution.toml": 'title = "Solution"\nrecipe = "half"\n',
    "ingredients/syrup.toml": 'title = "Syrup"\nrecipe = "thick"\n',
    "ingredients/oil.toml": OIL,
    "ingredients/unused.toml": 'title = "Unused"\n[substances]\n"Talc" = 100\n',
}


def compared(
    workspace: MakeWorkspace, changed: dict[str, str | bytes | None], only: tuple[str, ...] = ()
) -> Comparison:
    return compare(workspace(FILES), workspace({**FILES, **changed}), TERMS, only)


def edited(file: str, old: str, new: str) -> dict[str, str | bytes | None]:
    assert old in FILES[file]
    return {file: FILES[file].replace(old, new, 1)}


def kinds(found: Comparison) -> dict[str, list[str]]:
    return {r.recipe: [change.id for change in r.changes if not change.derived] for r in found.reviews}


def test_nothing_changed(workspace: MakeWorkspace) -> None:
    found = compared(workspace, {})

    assert ((), (), (), 6) == (found.reviews, found.beside, found.touched, found.same)


def test_a_premix_shows_under_every_recipe_that_rests_on_it(workspace: MakeWorkspace) -> None:
    """Directly, and through another premix; the body oil does not know it."""
    inside = ["premix:premix/half/phase/A/charge/glycerin"]

    assert {
        "gel": inside,
        "half": ["amount:phase/A/charge/glycerin"],
        "paste": inside,
        "thick": inside,
    } == kinds(compared(workspace, edited("half.toml", "50", "40")))


def test_a_price_shows_under_untouched_recipes(workspace: MakeWorkspace) -> None:
    found = compared(workspace, edited("ingredients/oil.toml", "8.40", "9.40"))

    assert {"oil": ["price:ingredient/oil/price"]} == kinds(found)
    (effect,) = found.reviews[0].effects
    assert ("cost_per_kg", Fraction(1)) == (effect.figure, effect.difference)
    assert 5 == found.same


def test_formatting_alone_changes_no_meaning(workspace: MakeWorkspace) -> None:
    found = compared(workspace, edited("gel.toml", "solution = 10", "# strong\nsolution   = 10.00"))

    assert [("gel", "same", ())] == [(r.recipe, r.status, r.changes) for r in found.reviews]


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"gel.toml": None}, [("gel", "removed")]),
        ({"new.toml": FILES["gel.toml"]}, [("new", "added")]),
        ({"gel.toml": "title = \n"}, [("gel", "unread")]),
        ({"gel.toml": b"\x00\xff"}, [("gel", "unread")]),
    ],
)
def test_files_that_came_went_or_broke(
    changed: dict[str, str | bytes | None], expected: list[tuple[str, str]], workspace: MakeWorkspace
) -> None:
    assert expected == [(r.recipe, r.status) for r in compared(workspace, changed).reviews]


def test_a_file_that_breaks_is_a_new_finding(workspace: MakeWorkspace) -> None:
    (review,) = compared(workspace, {"gel.toml": "title = \n"}).reviews

    assert ["syntax"] == [item.finding.rule for item in review.new]
    assert review.blocked


def test_a_file_that_is_mended_says_what_is_in_it(workspace: MakeWorkspace) -> None:
    found = compare(workspace({**FILES, "gel.toml": "title = \n"}), workspace(FILES), TERMS)

    assert [("gel", "unread")] == [(r.recipe, r.status) for r in found.reviews]
    assert ["syntax"] == [finding.rule for finding in found.reviews[0].gone]


def test_a_premix_that_breaks_shows_where_it_is_used(workspace: MakeWorkspace) -> None:
    found = compared(workspace, {"half.toml": "title = \n"})

    assert {"gel", "half", "paste", "thick"} == set(kinds(found))
    assert ["premix:premix/half"] == kinds(found)["gel"]


def test_what_no_recipe_shows_stands_beside(workspace: MakeWorkspace) -> None:
    found = compared(workspace, edited("ingredients/unused.toml", '"Unused"', '"Spare"'))

    assert () == found.reviews
    assert ["ingredients/unused.toml"] == list(found.touched)
    assert 1 == len(found.beside)
    assert "Spare" in found.beside[0].text


def test_what_a_recipe_shows_does_not_stand_beside_as_well(workspace: MakeWorkspace) -> None:
    assert () == compared(workspace, edited("ingredients/oil.toml", "8.40", "9.40")).beside


def test_one_recipe_can_be_asked_for(workspace: MakeWorkspace) -> None:
    assert {"gel"} == set(kinds(compared(workspace, edited("half.toml", "50", "40"), ("gel",))))


def test_new_findings_come_with_their_causes(workspace: MakeWorkspace) -> None:
    """Two charges that only together leave nothing for the balance are both named."""
    lines = 'solution = 60\nglycerin = 50\n[phase.B]\ntitle = "B"\n'
    found = compared(workspace, edited("gel.toml", "solution = 10\n", lines))
    left = next(item for item in found.reviews[0].new if item.finding.rule == "balance-left")

    assert ("amount:phase/A/charge/solution", "added:phase/A/charge/glycerin") == left.causes
    assert ("gel.toml", 3, 9) == (left.finding.file, left.finding.line, left.finding.column)


def test_a_default_of_the_workspace_shows_under_every_recipe(workspace: MakeWorkspace) -> None:
    text = 'title = "Shed"\ncurrency = "EUR"\nbatch = "50 kg"\n'

    assert {("header:workspace/batch",)} == {
        tuple(k) for k in kinds(compared(workspace, {"workspace.toml": text})).values()
    }


@pytest.mark.parametrize("changed", [{"half.toml": None}, {"ingredients/solution.toml": None}])
def test_a_file_that_is_taken_away_is_the_cause_of_what_misses_it(
    changed: dict[str, str | bytes | None], workspace: MakeWorkspace
) -> None:
    """And not whatever else was changed with it."""
    more = edited("gel.toml", 'title = "Gel"', 'title = "Jelly"')
    review = next(r for r in compared(workspace, {**changed, **more}).reviews if r.recipe == "gel")
    missed = [item for item in review.new if item.finding.rule in ("reference", "premix-reference")]

    assert 1 == len(missed)
    assert ("premix:premix/half" if "half.toml" in changed else "ingredient:ingredient/solution",) == missed[0].causes


def test_a_machine_that_is_taken_away_is_the_cause(workspace: MakeWorkspace) -> None:
    kettle = 'title = "Kettle"\nkind = "vessel"\n'
    gel = FILES["gel.toml"].replace('shear = "low"', 'shear = "low"\nmixer = "kettle"')
    old = workspace({**FILES, "gel.toml": gel, "equipment/kettle.toml": kettle})
    (review,) = compare(old, workspace({**FILES, "gel.toml": gel.replace("10", "11")}), TERMS).reviews
    missed = [item for item in review.new if item.finding.rule == "reference"]

    assert [("other:equipment/kettle",)] == [item.causes for item in missed]
