"""Who last changed what: meaning only, through moves, grades, renames and merges."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from formula_vcs.history.balance_blame import balance_blame
from formula_vcs.history.blame import NOT_YET, Blamed, blame, not_committed, trail
from formula_vcs.history.blame_parts import GRADE, PLACE, VALUE, Facet
from formula_vcs.history.versions import History
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.git.helpers_git import settle
from tests.history.helpers_history import CREAM, REINDENTED, SHED, Shed, material

OIL = ("phase", "B", "charge", "oil")
GLYCERIN = ("phase", "A", "charge", "glycerin")


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shed:
    """Give a shed with its first commit."""
    settle(monkeypatch, tmp_path)
    return Shed(tmp_path / "shed")


def owed(history: History) -> dict[Facet, Blamed]:
    assert history.tip is not None
    return blame(history.tip)


def of(history: History, *path: str, what: str = VALUE) -> tuple[str, str | None, str | None]:
    found = owed(history)[Facet("", path, what)]
    return found.version.commit.oid, found.old, found.new


def test_everything_is_owed_to_the_commit_that_gave_it_its_value(shed: Shed) -> None:
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    spec = shed.edit("Spec", ("5 to 6", "5 to 6.5"))
    time = shed.edit("Time", ("5 min", "9 min"))

    found = shed.history()

    assert (less, "5.00 %", "4.00 %") == of(found, *GLYCERIN)
    assert (spec, "5 to 6", "5 to 6.5") == of(found, "spec", "pH")
    assert (time, "5 min", "9 min") == of(found, "step", "mix", "time")
    assert (shed.first, None, "low") == of(found, "step", "mix", "shear")
    assert (shed.first, None, "Cream") == of(found, "title")
    assert (shed.first, None, "yes") == of(found, "claims", "natural-origin at least 95 %")


def test_layout_comments_and_digits_are_nobodys(shed: Shed) -> None:
    """Re-indented, keys in another order, other comments, 5.00 as 5.0, tabs, single quotes, Windows line ends."""
    less = shed.edit("Less", ("oil      = 6.00", "oil      = 5.00"))
    shed.edit("Back", ("oil      = 5.00", "oil      = 6.00"))
    before = {facet: blamed.version.commit.oid for facet, blamed in owed(shed.history()).items()}
    assert less not in before.values()

    shed.commit("Layout", {"cream.toml": REINDENTED})
    shed.commit("Windows", {"cream.toml": REINDENTED.replace("\n", "\r\n")})

    assert before == {facet: blamed.version.commit.oid for facet, blamed in owed(shed.history()).items()}


def test_a_move_keeps_its_amount(shed: Shed) -> None:
    more = shed.edit("More", ("oil      = 6.00", "oil      = 7.00"))
    move = shed.edit("Later", ("[phase.B.charge]", "[phase.C.charge]"), ('"B/oil"', '"C/oil"'))

    found = shed.history()

    assert (more, "6.00 %", "7.00 %") == of(found, "phase", "C", "charge", "oil")
    assert (move, "B", "C") == of(found, "phase", "C", "charge", "oil", what=PLACE)
    assert (shed.first, None, "oil") == of(found, "phase", "C", "charge", "oil", what=GRADE)
    assert (move, "A, B/oil", "A, C/oil") == of(found, "step", "mix", "add")


def test_another_grade_keeps_amount_and_place(shed: Shed) -> None:
    more = shed.edit("More", ("oil      = 6.00", "oil      = 7.00"))
    swap = shed.edit("Organic", ("oil      = 7.00", "oil-organic = 7.00"), ('"B/oil"', '"B/oil-organic"'))

    found = shed.history()
    path = ("phase", "B", "charge", "oil-organic")

    assert (swap, "oil", "oil-organic") == of(found, *path, what=GRADE)
    assert (more, "6.00 %", "7.00 %") == of(found, *path)
    assert (shed.first, None, "B") == of(found, *path, what=PLACE)


def test_a_new_charge_is_owed_as_a_whole(shed: Shed) -> None:
    new = shed.edit("Wax", ("oil      = 6.00", "oil      = 6.00\nspare    = 1.00"))

    found = shed.history()

    for what in (VALUE, PLACE, GRADE):
        assert new == of(found, "phase", "B", "charge", "spare", what=what)[0]


def test_a_step_that_moved_is_owed_its_place_alone(shed: Shed) -> None:
    step = '\n[[step]]\nid = "cool"\ninto = "main"\nshear = "low"\ntemp = "30 degC"\n'
    shed.edit("Cool", ("\n[spec]", f"{step}\n[spec]"))
    text = (shed.path / "cream.toml").read_text("utf-8").replace(step, "", 1)
    move = shed.commit("First", {"cream.toml": text.replace("\n[[step]]", f"{step}\n[[step]]", 1)})

    found = shed.history()

    assert (move, "after 'mix'", "first") == of(found, "step", "cool", what=PLACE)
    assert "Cool" == owed(found)[Facet("", ("step", "cool", "temp"))].version.commit.subject


def test_a_merge_owes_each_side_its_own(shed: Shed) -> None:
    """The issue's: one side moves the oil from B to C, the other raises it from 6 to 7 %."""
    shed.branch("side")
    more = shed.edit("More", ("oil      = 6.00", "oil      = 7.00"))
    shed.switch("main")
    move = shed.edit("Later", ("[phase.B.charge]", "[phase.C.charge]"), ('"B/oil"', '"C/oil"'))
    shed.git("merge", "--quiet", "--no-ff", "--no-commit", "--strategy=ours", "side")
    merge = shed.edit("Merge", ("oil      = 6.00", "oil      = 7.00"))

    found = shed.history()

    assert (more, "6.00 %", "7.00 %") == of(found, "phase", "C", "charge", "oil")
    assert (move, "B", "C") == of(found, "phase", "C", "charge", "oil", what=PLACE)
    first = shed.history(first_parent=True)
    assert (merge, "6.00 %", "7.00 %") == of(first, "phase", "C", "charge", "oil")


def test_the_same_change_on_both_sides_is_owed_to_the_first(shed: Shed) -> None:
    shed.branch("side")
    shed.edit("Less, there", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.switch("main")
    here = shed.edit("Less, here", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.edit("Spec", ("5 to 6", "5 to 6.5"))
    shed.merge("side")

    assert here == of(shed.history(), *GLYCERIN)[0]


def test_a_value_that_neither_side_had_is_owed_to_the_merge(shed: Shed) -> None:
    shed.branch("side")
    shed.edit("3", ("glycerin = 5.00", "glycerin = 3.00"))
    shed.switch("main")
    shed.edit("4", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.git("merge", "--quiet", "--no-ff", "--no-commit", "--strategy=ours", "side")
    merge = shed.edit("Meet", ("glycerin = 4.00", "glycerin = 3.50"))

    assert (merge, "4.00 %", "3.50 %") == of(shed.history(), *GLYCERIN)


def test_a_renamed_file_owes_what_it_owed(shed: Shed) -> None:
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.git("mv", "cream.toml", "balm.toml")
    shed.commit("Rename")

    assert less == of(shed.history("balm"), *GLYCERIN)[0]


def test_an_undone_change_is_owed_to_who_undid_it(shed: Shed) -> None:
    shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.git("revert", "--no-edit", "HEAD")

    assert (shed.git("rev-parse", "HEAD"), "4.00 %", "5.00 %") == of(shed.history(), *GLYCERIN)


def test_a_broken_file_in_between_takes_nothing_over(shed: Shed) -> None:
    shed.commit("Broken", {"cream.toml": CREAM + "[[[\n"})
    less = shed.commit("Mended", {"cream.toml": CREAM.replace("5.00", "4.00")})

    found = shed.history()

    assert (less, "5.00 %", "4.00 %") == of(found, *GLYCERIN)
    assert (shed.first, None, "6.00 %") == of(found, *OIL)


def test_removed_and_brought_back_is_owed_to_who_brought_it(shed: Shed) -> None:
    (shed.path / "cream.toml").unlink()
    shed.commit("Drop")
    back = shed.commit("Back", {"cream.toml": CREAM})

    assert {back} == {blamed.version.commit.oid for blamed in owed(shed.history()).values()}


def test_what_is_not_committed(shed: Shed) -> None:
    text = CREAM.replace("glycerin = 5.00", "glycerin = 4.00")
    snapshot = Snapshot(Files({**SHED, "cream.toml": text}))
    recipe = snapshot.recipe("cream")
    assert recipe is not None

    found = blame(not_committed(shed.history().tip, snapshot.formula(recipe), "cream.toml"))

    glycerin = found[Facet("", GLYCERIN)]
    assert (NOT_YET, "5.00 %", "4.00 %") == (glycerin.version.commit.oid, glycerin.old, glycerin.new)
    assert shed.first == found[Facet("", OIL)].version.commit.oid


# The balance


def moved(history: History) -> tuple[str, Fraction | None, Fraction, list[tuple[str, Fraction | None, str]]]:
    assert history.tip is not None
    assert history.tip.formula is not None
    charge = next(charge for charge in history.tip.formula.recipe.charges if charge.balance)
    found = balance_blame(history.tip, charge)
    assert found is not None
    movers = [(mover.change.id, mover.points, mover.version.commit.subject) for mover in found.movers]
    return found.version.commit.subject, found.old, found.new, movers


def test_a_balance_says_what_moved_it(shed: Shed) -> None:
    shed.edit(
        "Less and more",
        ("glycerin = 5.00", "glycerin = 3.00"),
        ("oil      = 6.00", "oil      = 6.50"),
        ("5 min", "6 min"),
    )
    shed.edit("Spec", ("5 to 6", "5 to 6.5"))

    assert (
        "Less and more", Fraction(89), Fraction("90.5"),
        [("amount:phase/A/charge/glycerin", Fraction(2), "Less and more"),
         ("amount:phase/B/charge/oil", Fraction("-0.5"), "Less and more")],
    ) == moved(shed.history())  # fmt: skip


def test_a_balance_that_two_sides_moved_names_both_commits(shed: Shed) -> None:
    shed.branch("side")
    shed.edit("Side", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.switch("main")
    shed.edit("Main", ("6.00", "7.00"), ("5 min", "6 min"))
    shed.git("merge", "--quiet", "--no-ff", "--no-commit", "--strategy=ours", "side")
    shed.edit("Merge", ("glycerin = 5.00", "glycerin = 4.00"))

    found = moved(shed.history())

    assert ("Merge", Fraction(88), Fraction(89)) == found[:3]
    assert [("amount:phase/A/charge/glycerin", Fraction(1), "Side")] == found[3]


def test_a_balance_from_the_beginning(shed: Shed) -> None:
    shed.edit("Spec", ("5 to 6", "5 to 6.5"))

    assert ("Begin", None, Fraction(89), []) == moved(shed.history())


# The trail of one charge


def test_the_trail_of_a_charge_through_a_move_and_another_grade(shed: Shed) -> None:
    shed.edit("Less glycerin", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.edit("More oil", ("oil      = 6.00", "oil      = 7.00"))
    shed.edit("Later", ("[phase.B.charge]", "[phase.C.charge]"), ('"B/oil"', '"C/oil"'))
    shed.edit("Organic", ("oil      = 7.00", "oil-organic = 7.00"), ('"C/oil"', '"C/oil-organic"'))
    organic = material("Oil, organic", "Helianthus Annuus Seed Oil", organic="1", price="9.00")
    shed.commit("Price", {"ingredients/oil-organic.toml": organic})
    found = shed.history()

    there = trail(found.versions[::-1], "oil-organic")

    assert ["Begin", "More oil", "Later", "Organic", "Price"] == [
        version.commit.subject for version in found.versions if id(version) in there
    ]
    paths = [there[id(version)].paths[0][1:] for version in found.versions if id(version) in there]
    assert [("B", "charge", "oil"), ("C", "charge", "oil"), ("C", "charge", "oil-organic")] == [
        paths[0], paths[2], paths[3]
    ]  # fmt: skip
    assert {} == trail(found.versions[::-1], "nothing")


def test_the_trail_of_a_charge_that_is_gone(shed: Shed) -> None:
    shed.edit("Less", ("oil      = 6.00", "oil      = 5.00"))
    shed.edit("None", ("[phase.B.charge]\noil      = 5.00\n\n", ""), ('["A", "B/oil"]', '["A"]'))
    shed.edit("Glycerin", ("glycerin = 5.00", "glycerin = 4.00"))
    found = shed.history()

    there = trail(found.versions[::-1], "oil")

    assert ["Begin", "Less", "None"] == [version.commit.subject for version in found.versions if id(version) in there]
