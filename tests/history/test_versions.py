"""The versions of a recipe: which commits count, through merges, renames, gaps and cut-off histories."""

from __future__ import annotations

from pathlib import Path

import pytest

from formula_vcs.diff.apply import apply
from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.history.versions import between
from tests.git.helpers_git import settle
from tests.history.helpers_history import CREAM, REINDENTED, SHED, Shed, ids, material, statuses


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shed:
    """Give a shed with its first commit."""
    settle(monkeypatch, tmp_path)
    return Shed(tmp_path / "shed")


def test_what_counts_is_meaning_of_the_recipe_or_of_what_it_rests_on(shed: Shed) -> None:
    amount = shed.edit("More glycerin", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.commit("Another recipe", {"gel.toml": CREAM.replace("Cream", "Gel")})
    shed.commit("An ingredient that it does not use", {"ingredients/spare.toml": material("Spare 2", "Squalane")})
    shed.edit("Layout", ("glycerin = 4.00", "glycerin   =   4.0  # less"))
    price = shed.commit("Price", {"ingredients/oil.toml": material("Oil", "Helianthus Annuus Seed Oil", price="3.00")})
    shed.commit("Nothing at all")

    found = shed.history()

    assert [shed.first, amount, price] == ids(found)
    assert ["added", "changed", "changed"] == statuses(found)
    assert [False, False, True] == [version.under for version in found.versions]
    assert ["price:ingredient/oil/price"] == [change.id for change in found.versions[2].changes]


def test_every_version_is_the_one_before_with_its_changes_made(shed: Shed) -> None:
    shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.edit("Another grade", ("oil      = 6.00", "oil-organic = 7.00"), ('"B/oil"', '"B/oil-organic"'))
    shed.commit("Price", {"ingredients/glycerin.toml": material("Glycerin", "Glycerin", price="9.00")})
    shed.edit("Spec", ("5 to 6", "5 to 6.5"))

    found = shed.history().versions

    assert 5 == len(found)
    for version in found[1:]:
        assert version.before is not None
        assert version.formula == apply(version.before, version.changes)


def test_a_file_that_is_named_and_comes_later_counts(shed: Shed) -> None:
    shed.edit("Name it", ("oil      = 6.00", "oil      = 6.00\nwax      = 1.00"))
    came = shed.commit("Wax", {"ingredients/wax.toml": material("Wax", "Cera Alba")})
    (shed.path / "ingredients/wax.toml").unlink()
    went = shed.commit("No wax")

    assert [came, went] == ids(shed.history())[-2:]


def test_premixes_equipment_and_house_rules_count(shed: Shed) -> None:
    gel = CREAM.replace("Cream", "Gel").replace("oil ", "spare ").replace("B/oil", "B/spare")
    shed.commit("Gel", {"gel.toml": gel, "ingredients/gel.toml": 'title = "Gel"\nrecipe = "gel"\n'})
    uses = shed.edit("Use it", ("oil      = 6.00", "oil      = 6.00\ngel      = 2.00"))
    inside = shed.edit("In the gel", ("glycerin = 5.00", "glycerin = 3.00"), file="gel.toml")
    mixer = shed.edit("Mixer", ('shear = "low"', 'shear = "low"\nmixer = "rotor"'))
    machine = shed.commit("Rotor", {"equipment/rotor.toml": 'title = "Rotor"\nkind = "rotor-stator"\n'})
    rule = '[[rule]]\nid = "house-{1}"\nsubstances = ["{0}"]\nkind = "limit"\nat_most = "3 %"\nsource = "HS-1"\n'
    about, other = rule.format("Glycerin", "1"), rule.format("Menthol", "2")
    shed.commit("A rule about something else", {"rules/house.toml": other})
    house = shed.commit("A rule about it", {"rules/house.toml": other + about})
    currency = shed.commit("Workspace", {"workspace.toml": 'title = "Shed"\ncurrency = "GBP"\nbatch = "100 kg"\n'})

    assert [shed.first, uses, inside, mixer, machine, house, currency] == ids(shed.history())


def test_a_clean_merge_is_no_version_of_its_own_where_one_side_stood_still(shed: Shed) -> None:
    shed.branch("side")
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.switch("main")
    shed.commit("Elsewhere", {"gel.toml": CREAM})
    merge = shed.merge("side")

    assert [shed.first, less] == ids(shed.history())
    assert [shed.first, merge] == ids(shed.history(first_parent=True))


def test_a_merge_that_puts_both_sides_together_says_so_and_claims_nothing(shed: Shed) -> None:
    shed.branch("side")
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.switch("main")
    spec = shed.edit("Spec", ("5 to 6", "5 to 6.5"))
    merge = shed.merge("side")

    found = shed.history()

    assert [shed.first, less, spec, merge] == ids(found)
    assert "merged" == found.versions[-1].status
    assert () == found.versions[-1].changes
    first = shed.history(first_parent=True).versions[-1]
    assert (merge, "changed") == (first.commit.oid, first.status)
    assert ["amount:phase/A/charge/glycerin", "balance:phase/A/charge/water"] == [change.id for change in first.changes]


def test_what_somebody_edited_into_a_merge_is_the_merges(shed: Shed) -> None:
    shed.branch("side")
    shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.switch("main")
    shed.edit("Spec", ("5 to 6", "5 to 6.5"))
    shed.git("merge", "--quiet", "--no-ff", "--no-commit", "side")
    merge = shed.edit("Merge, and one more thing", ("5 min", "9 min"))

    version = shed.history().versions[-1]

    assert (merge, "changed") == (version.commit.oid, version.status)
    assert ["step-changed:step/mix/time"] == [change.id for change in version.changes if not change.derived]


def test_a_side_that_was_thrown_away_has_no_part(shed: Shed) -> None:
    shed.branch("side")
    shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.switch("main")
    spec = shed.edit("Spec", ("5 to 6", "5 to 6.5"))
    shed.merge("side", "--strategy=ours")

    assert [shed.first, spec] == ids(shed.history())


def test_a_move_of_one_side_and_an_amount_of_the_other(shed: Shed) -> None:
    """The merge has the oil in C at 7 %: both from a side, none of its own."""
    shed.branch("side")
    shed.edit("More oil", ("oil      = 6.00", "oil      = 7.00"))
    shed.switch("main")
    shed.edit("Later", ("[phase.B.charge]", "[phase.C.charge]"), ('"B/oil"', '"C/oil"'))
    shed.git("merge", "--quiet", "--no-ff", "--no-commit", "--strategy=ours", "side")
    shed.edit("Merge by hand, git cannot", ("oil      = 6.00", "oil      = 7.00"))

    version = shed.history().versions[-1]

    assert "merged" == version.status
    assert version.formula is not None
    assert "7.00 %" == str(version.formula.recipe.facts["phase", "C", "charge", "oil"])


def test_a_renamed_file_is_the_same_recipe(shed: Shed) -> None:
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    (shed.path / "face").mkdir()
    shed.git("mv", "cream.toml", "face/day-cream.toml")
    moved = shed.commit("Rename")

    found = shed.history("day-cream")

    assert [shed.first, less, moved] == ids(found)
    assert ["header:id"] == [change.id for change in found.versions[-1].changes]
    assert ["cream", "cream", "day-cream"] == [version.recipe for version in found.versions]
    assert "face/day-cream.toml" == found.versions[-1].path


def test_another_folder_alone_is_no_version(shed: Shed) -> None:
    (shed.path / "face").mkdir()
    shed.git("mv", "cream.toml", "face/cream.toml")
    shed.commit("Move")
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"), file="face/cream.toml")

    assert [shed.first, less] == ids(shed.history())


def test_renamed_and_laid_out_anew_at_once_is_the_same_recipe(shed: Shed) -> None:
    """Git sees no rename in it; the facts say that it is one."""
    shed.git("rm", "--quiet", "cream.toml")
    shed.commit("New layout, new name", {"balm.toml": REINDENTED})

    found = shed.history("balm")

    assert ["added", "changed"] == statuses(found)
    assert ["header:id"] == [change.id for change in found.versions[-1].changes]


def test_a_rename_on_one_side_and_an_edit_on_the_other(shed: Shed) -> None:
    shed.branch("side")
    shed.git("mv", "cream.toml", "balm.toml")
    renamed = shed.commit("Rename")
    shed.switch("main")
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    merge = shed.merge("side")

    found = shed.history("balm")

    assert [shed.first, renamed, less, merge] == ids(found)
    assert ["added", "changed", "changed", "merged"] == statuses(found)


def test_a_workspace_that_was_moved_whole(shed: Shed) -> None:
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    (shed.path / "shop").mkdir()
    for name in ("workspace.toml", "cream.toml", "ingredients"):
        shed.git("mv", name, f"shop/{name}")
    shed.commit("Into a folder")
    shed.folder = "shop"
    spec = shed.edit("Spec", ("5 to 6", "5 to 6.5"))

    found = shed.history()

    assert [shed.first, less, spec] == ids(found)
    assert ["cream.toml", "cream.toml", "shop/cream.toml"] == [version.path for version in found.versions]


def test_gone_and_back_again(shed: Shed) -> None:
    (shed.path / "cream.toml").unlink()
    gone = shed.commit("Drop it")
    back = shed.commit("Bring it back", {"cream.toml": CREAM})

    found = shed.history()

    assert [(shed.first, "added"), (gone, "removed"), (back, "added")] == list(
        zip(ids(found), statuses(found), strict=True)
    )


def test_a_recipe_that_is_gone_still_has_its_history(shed: Shed) -> None:
    (shed.path / "cream.toml").unlink()
    gone = shed.commit("Drop it")

    found = shed.history()

    assert [shed.first, gone] == ids(found)
    assert found.tip is None


def test_a_file_that_does_not_parse_changes_nothing_in_between(shed: Shed) -> None:
    broken = shed.commit("Broken", {"cream.toml": CREAM + "[[[\n"})
    shed.commit("Elsewhere", {"gel.toml": CREAM})
    mended = shed.commit("Mended", {"cream.toml": CREAM.replace("5.00", "4.00")})

    found = shed.history()

    assert [(shed.first, "added"), (broken, "unread"), (mended, "changed")] == list(
        zip(ids(found), statuses(found), strict=True)
    )
    assert ["amount"] == [change.kind for change in found.versions[-1].changes if not change.derived]


def test_a_file_that_does_not_parse_at_the_end(shed: Shed) -> None:
    broken = shed.commit("Broken", {"cream.toml": CREAM + "[[[\n"})

    tip = shed.history().tip

    assert tip is not None
    assert (broken, "unread", False) == (tip.commit.oid, tip.status, tip.there)
    assert tip.formula is not None


def test_a_file_that_never_parsed_begins_where_it_does(shed: Shed) -> None:
    shed.commit("Broken", {"gel.toml": "[[[\n"})
    begins = shed.commit("Mended", {"gel.toml": CREAM})

    found = shed.history("gel")

    assert (begins, "added") == (ids(found)[-1], statuses(found)[-1])


def test_a_shallow_clone_does_not_call_its_end_the_beginning(
    shed: Shed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    spec = shed.edit("Spec", ("5 to 6", "5 to 6.5"))
    clone = tmp_path / "clone"
    shed.git("clone", "--quiet", "--depth=2", f"file://{shed.path}", str(clone))
    there = shed
    there.path = clone

    found = there.history()

    assert ["cut", "changed"] == statuses(found)
    assert spec == ids(found)[-1]
    assert found.cut
    with pytest.raises(UserError, match="shallow"):
        there.history("nobody")


def test_unknown_recipes_and_revisions(shed: Shed) -> None:
    with pytest.raises(UserError, match="no recipe is called 'balm'"):
        shed.history("balm")
    with pytest.raises(UserError, match="unknown revision 'nowhere'"):
        shed.history(tip="nowhere")


def test_a_link_to_a_recipe_is_followed(shed: Shed) -> None:
    (shed.path / "other.toml").symlink_to("cream.toml")
    came = shed.commit("Link")
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))

    assert [came, less] == ids(shed.history("other"))


def test_many_branches_at_once(shed: Shed) -> None:
    """An octopus of three sides, each with a change of its own."""
    for number, edit in enumerate((("5.00", "4.00"), ("6.00", "7.00"), ("5 to 6", "5 to 7"))):
        shed.switch("main")
        shed.branch(f"side-{number}")
        shed.edit(f"Side {number}", edit)
    shed.switch("main")
    shed.edit("Main", ("5 min", "8 min"))
    shed.git("merge", "--quiet", "--no-edit", "side-0")
    shed.git("merge", "--quiet", "--no-edit", "side-1")
    shed.git("merge", "--quiet", "--no-edit", "side-2")

    found = shed.history()

    assert ["merged"] * 3 == statuses(found)[-3:]
    assert {"Side 0", "Side 1", "Side 2", "Main"} < {version.commit.subject for version in found.versions}


# between


def test_the_way_forward(shed: Shed) -> None:
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    spec = shed.edit("Spec", ("5 to 6", "5 to 6.5"))

    way = between(repository.open_repo(shed.path), "", "cream", less, "HEAD")

    assert way.straight
    assert (less, [spec]) == (way.base, [version.commit.oid for version in way.done])


def test_the_way_over_where_two_parted(shed: Shed) -> None:
    shed.branch("side")
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.switch("main")
    spec = shed.edit("Spec", ("5 to 6", "5 to 6.5"))

    way = between(repository.open_repo(shed.path), "", "cream", "side", "main")

    assert not way.straight
    assert shed.first == way.base
    assert ([spec], [less]) == tuple([version.commit.oid for version in side] for side in (way.done, way.undone))


def test_the_way_back_undoes(shed: Shed) -> None:
    less = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))

    way = between(repository.open_repo(shed.path), "", "cream", less, shed.first)

    assert (shed.first, (), [less]) == (way.base, way.done, [version.commit.oid for version in way.undone])


def test_nothing_in_common(shed: Shed) -> None:
    shed.git("checkout", "--quiet", "--orphan", "other")
    other = shed.commit("Anew", dict(SHED))

    way = between(repository.open_repo(shed.path), "", "cream", "main", "other")

    assert way.base is None
    assert ([other], [shed.first]) == tuple([version.commit.oid for version in side] for side in (way.done, way.undone))


def test_a_workspace_that_moved_away_and_back(shed: Shed) -> None:
    """At the top of the repository all commits are listed, and the folder in between must be known for the figures."""
    (shed.path / "lab").mkdir()
    shed.git("mv", "workspace.toml", "ingredients", "cream.toml", "lab")
    shed.commit("Into a folder")
    inside = shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"), file="lab/cream.toml")
    shed.git("mv", "lab/workspace.toml", "lab/ingredients", "lab/cream.toml", ".")
    shed.commit("And back")

    found = shed.history()

    assert [shed.first, inside] == ids(found)
    assert all(version.formula is not None and "oil" in version.formula.ingredients for version in found.versions)
