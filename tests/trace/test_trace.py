"""Trace: two batches compared, what fits and what does not, and records that lack something."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.trace.helpers_trace import GEL, LOTION, SHOP, Repo, against, batch, fits, gel, lotion, traced, tracer

Make = Callable[..., Repo]
THIN = 'pH = "5.0"\nviscosity = "15.8 Pa*s"\n'
SHORT = {"pour": 'speed = "3000 rpm"\ntime = "4 min"\ntemp = "25 degC"\n'}


@pytest.fixture
def repo(git_repo: Make) -> Repo:
    """Give the shop, committed."""
    return git_repo(SHOP)


def head(repo: Repo) -> str:
    return str(repo.git("rev-parse", "HEAD"))


def write(repo: Repo, *files: dict[str, str]) -> None:
    for some in files:
        repo.write(some)


def test_batches_that_are_alike_differ_in_nothing(repo: Repo) -> None:
    one = head(repo)
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one), lotion("b", one))
    found = traced(repo.path, "a", "b")

    assert found.alone
    assert () == found.differences
    assert () == found.explained
    assert ["same"] == list({row.state for row in found.lots})
    assert "same" == found.recipe.state


def test_a_batch_and_itself(repo: Repo) -> None:
    one = head(repo)
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one))
    found = traced(repo.path, "a", "a")

    assert found.alone
    assert "a is compared with itself" in found.flags


def test_a_step_that_was_done_shorter_makes_it_thin(repo: Repo) -> None:
    one = head(repo)
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one), lotion("b", one, steps=SHORT, results=THIN))
    found = traced(repo.path, "a", "b")

    assert ["making/time/pour"] == fits(found)
    assert ["gum-hydration"] == [cause.id for cause in found.explained[0].fits[0].causes]
    (lived,) = [item for item in found.making.lived if "A/gum" in item.charges]
    assert ("high shear", "min", 14.0, 10.0) == lived.values[0]


def test_more_shear_on_gum_that_is_hydrated_points_the_other_way(repo: Repo) -> None:
    """The rotor runs longer while emulsifying: that tears swollen gum, and makes finer droplets: either may be."""
    one = head(repo)
    long = {"emulsify": 'speed = "3000 rpm"\ntime = "12 min"\ntemp = "75 degC"\n'}
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one), lotion("b", one, steps=long, results=THIN))
    found = traced(repo.path, "a", "b")

    (explained,) = found.explained
    assert [] == fits(found)
    assert ["making/time/emulsify"] == [item.difference.id for item in explained.open_]
    assert {"gum-scission", "fine-droplets"} <= {cause.id for cause in explained.open_[0].causes}


def test_a_lot_is_found_through_a_premix_and_in_other_units(repo: Repo) -> None:
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        gel("g-2", one, "k-2", "12.6 Pa*s", "2026-02-10"),
        lotion("a", one),
        lotion("b", one, lots={"gel": "g-2"}, results=THIN),
    )
    found = traced(repo.path, "a", "b")

    assert ["lots/gel/certificate/kelp-gum/viscosity"] == fits(found)
    candidate = found.explained[0].fits[0]
    assert -0.7 == pytest.approx(float(candidate.difference.size or 0))
    assert ["lots/result/gel/viscosity"] == [item.id for item in candidate.seen]
    assert any("near the lower limit" in note for note in candidate.difference.notes)


def test_two_inputs_are_never_one_cause(repo: Repo) -> None:
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        gel("g-2", one, "k-2", "12.6 Pa*s", "2026-02-10"),
        lotion("a", one),
        lotion("b", one, lots={"gel": "g-2"}, steps=SHORT, results=THIN),
    )

    assert {"making/time/pour", "lots/gel/certificate/kelp-gum/viscosity"} == set(fits(traced(repo.path, "a", "b")))


def test_a_commit_is_named_and_what_points_the_other_way_is_not_accused(repo: Repo) -> None:
    one = head(repo)
    two = repo.commit(
        "Gum for 4 minutes\n\nReason: the rotor is wanted elsewhere",
        {"lotion.toml": LOTION.replace('"8 min"', '"4 min"')},
    )
    three = repo.commit(
        "More gum", {"lotion.toml": LOTION.replace('"8 min"', '"4 min"').replace("gum   = 0.30", "gum   = 0.33")}
    )
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one),
        lotion("b", three, weighed={"gum": "0.33 kg", "water": "75.67 kg"}, steps=SHORT, results=THIN),
    )
    found = traced(repo.path, "a", "b")

    assert ["recipe/time/pour"] == fits(found)
    assert ["recipe/amount/gum (A)"] == against(found)
    assert [two] == [commit.oid for commit in found.explained[0].fits[0].difference.by]
    assert ["the rotor is wanted elsewhere"] == [commit.reason for commit in found.explained[0].fits[0].difference.by]
    assert [three] == [commit.oid for commit in found.explained[0].against[0].difference.by]


def test_what_the_recipe_asked_and_nobody_did_is_no_cause(repo: Repo) -> None:
    """The commit says 4 minutes, and both batches had 8."""
    one = head(repo)
    two = repo.commit("Shorter", {"lotion.toml": LOTION.replace('"8 min"', '"4 min"')})
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one), lotion("b", two, results=THIN))
    found = traced(repo.path, "a", "b")

    assert [] == fits(found)
    assert ["step-changed:step/pour/time"] == [item.change.id for item in found.recipe.changes]


def test_what_the_recipe_asked_counts_where_nothing_is_recorded_as_done(repo: Repo) -> None:
    one = head(repo)
    two = repo.commit("Shorter", {"lotion.toml": LOTION.replace('"8 min"', '"4 min"')})
    quiet = {"pour": 'done_by = "Una"\n'}
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one, steps=quiet),
        lotion("b", two, steps=quiet, results=THIN),
    )
    found = traced(repo.path, "a", "b")

    assert ["recipe/time/pour"] == fits(found)
    assert "asked" == found.explained[0].fits[0].difference.grade


def test_the_mirrored_trace_says_the_same_with_signs_turned(repo: Repo) -> None:
    one = head(repo)
    two = repo.commit("Shorter", {"lotion.toml": LOTION.replace('"8 min"', '"4 min"')})
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        gel("g-2", one, "k-2", "12.6 Pa*s", "2026-02-10"),
        lotion("a", one),
        lotion("b", two, lots={"gel": "g-2"}, weighed={"gum": "0.31 kg"}, steps=SHORT, results=THIN),
    )
    there, back = traced(repo.path, "a", "b"), traced(repo.path, "b", "a")

    assert fits(there) == fits(back)
    assert against(there) == against(back)
    assert {item.id: item.way for item in there.differences} == {item.id: -item.way for item in back.differences}
    assert {item.id: item.grade for item in there.differences} == {item.id: item.grade for item in back.differences}
    assert [row.widths for row in there.results] == [
        None if row.widths is None else -row.widths for row in back.results
    ]
    assert [item.by for item in there.recipe.changes] == [item.by for item in back.recipe.changes]
    assert all(item.undone for item in back.recipe.changes)


def test_weighings_inside_tolerance_are_put_aside(repo: Repo) -> None:
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one),
        lotion("b", one, weighed={"gum": "0.302 kg"}),
        lotion("c", one, weighed={"gum": "0.24 kg"}, results=THIN),
    )

    assert traced(repo.path, "a", "b").alone
    assert 1 == traced(repo.path, "a", "b").put_aside
    assert ["making/amount/gum (A)"] == fits(traced(repo.path, "a", "c"))


def test_a_weighing_in_the_wrong_unit_is_flagged_and_not_blamed(repo: Repo) -> None:
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one),
        lotion("b", one, weighed={"gum": "0.3 g"}, results=THIN),
    )
    found = traced(repo.path, "a", "b")

    assert [] == fits(found)
    assert any("A/gum is about 1,000 times" in flag for flag in found.flags)


def test_results_in_other_units_are_converted_and_a_slip_is_said(repo: Repo) -> None:
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one),
        lotion("b", one, results='viscosity = "23000 mPa*s"\npH = "5.0"\n'),
        lotion("c", one, results='viscosity = "23.0 mPa*s"\npH = "5.0"\n'),
    )
    same, off = traced(repo.path, "a", "b"), traced(repo.path, "a", "c")

    assert ["same"] == [row.state for row in same.results if row.name == "viscosity"]
    assert ["slip"] == [row.state for row in off.results if row.name == "viscosity"]
    assert () == off.explained
    assert any("mistaken unit" in flag for flag in off.flags)


def test_the_digits_that_are_recorded_hide_small_differences(repo: Repo) -> None:
    """5.0 and 5.1, each to 0.1, may be one value; 5.00 and 5.10 are two."""
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one, results='pH = "5.0"\n'),
        lotion("b", one, results='pH = "5.1"\n'),
        lotion("c", one, results='pH = "5.00"\n'),
        lotion("d", one, results='pH = "5.10"\n'),
    )

    assert ["digit"] == [row.state for row in traced(repo.path, "a", "b").results]
    assert ["differs"] == [row.state for row in traced(repo.path, "c", "d").results]


def test_a_commit_that_is_not_there_costs_only_the_recipe_part(repo: Repo) -> None:
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one),
        lotion("b", "ab" * 20, steps=SHORT, results=THIN),
    )
    found = traced(repo.path, "a", "b")

    assert "lost" == found.recipe.state
    assert "b: no commit of that id is in this repository" == found.recipe.why
    assert ["making/time/pour"] == fits(found)
    assert any("the recipe that it was made from" in line for line in found.missing)


def test_where_neither_commit_is_there_the_recipe_as_it_is_now_says_what_things_do(repo: Repo) -> None:
    gone = "ab" * 20
    write(
        repo,
        gel("g-1", gone, "k-1", "18.0 Pa*s"),
        gel("g-2", gone, "k-2", "12.6 Pa*s"),
        lotion("a", gone),
        lotion("b", gone, lots={"gel": "g-2"}, steps=SHORT, results=THIN),
    )
    found = traced(repo.path, "a", "b")

    assert "lost" == found.recipe.state
    assert {"making/time/pour", "lots/gel/certificate/kelp-gum/viscosity"} == set(fits(found))
    assert any("neither version can be read" in flag for flag in found.flags)
    assert ["below"] == [row.after.verdict for row in found.results if row.name == "viscosity"]


def test_what_only_moved_into_a_premix_is_no_difference(repo: Repo) -> None:
    """Ten per cent of oil become 5 % itself and 5 % in a blend with the emulsifier, which gives as much."""
    one = head(repo)
    blend = GEL.replace('water    = "to 100"\nkelp-gum = 4.00', "oil   = 50.00\nfixer = 50.00").partition("[spec]")[0]
    two = repo.commit(
        "A blend",
        {
            "premixes/blend.toml": blend,
            "ingredients/blend.toml": 'title = "Blend"\nrecipe = "blend"\ndensity = "1 g/mL"\n',
            "lotion.toml": LOTION.replace("oil   = 10.00\nfixer = 4.00", "oil   = 6.00\nblend = 8.00"),
        },
    )
    text = lotion("b", two, weighed={"oil": "6 kg"})["batches/b.toml"].replace("fixer = {", "blend = {")
    text = text.replace('target = "10 kg", weighed = "6 kg"', 'target = "6 kg", weighed = "6 kg"').replace(
        '"4 kg"', '"8 kg"'
    )
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one), {"batches/b.toml": text})
    found = traced(repo.path, "a", "b")

    assert [] == [item.id for item in found.differences if item.what == "amount"]
    assert 3 <= found.put_aside
    assert "differs" == found.recipe.state


def test_a_shallow_clone_says_so(repo: Repo, tmp_path: Path) -> None:
    one = head(repo)
    repo.commit("Shorter", {"lotion.toml": LOTION.replace('"8 min"', '"4 min"')})
    two = repo.commit("Records", {**gel("g-1", one, "k-1", "18.0 Pa*s"), **lotion("a", one)})
    repo.commit("One more", lotion("b", two, results=THIN))
    clone = tmp_path / "clone"
    subprocess.run(["git", "clone", "-q", "--depth", "2", repo.path.as_uri(), str(clone)], check=True)
    found = traced(clone, "a", "b")

    assert "shallow" in found.recipe.why
    assert any("viscosity" == one.result for one in found.explained)


def test_a_recipe_that_was_renamed_since_is_the_same_recipe(repo: Repo) -> None:
    one = head(repo)
    repo.git("mv", "lotion.toml", "milk.toml")
    two = repo.commit("Another name")
    new = {path: text.replace('recipe = "lotion"', 'recipe = "milk"') for path, text in lotion("b", two).items()}
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one), new)
    found = traced(repo.path, "a", "b")

    assert "differs" == found.recipe.state
    assert ["renamed, was 'lotion'"] == [item.change.text for item in found.recipe.changes]


def test_two_recipes_are_compared_and_said_to_be_two(repo: Repo) -> None:
    one = head(repo)
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one))
    found = traced(repo.path, "g-1", "a")

    assert "other" == found.recipe.state
    assert any("two recipes" in flag for flag in found.flags)


def test_a_lot_that_is_not_on_file_and_one_that_is_not_recorded(repo: Repo) -> None:
    one = head(repo)
    write(repo, lotion("a", one, lots={"gum": "gone"}), lotion("b", one, lots={"gum": "lost"}, results=THIN))
    repo.write({"batches/c.toml": lotion("c", one)["batches/c.toml"].replace(', lot = "x"', "")})
    found, bare = traced(repo.path, "a", "b"), traced(repo.path, "a", "c")

    assert any("nothing is on file of lot" in flag and "lost (gum)" in flag for flag in found.flags)
    assert ["lots/lot/gum"] == [item.difference.id for item in found.explained[0].open_]
    assert any(line.startswith("c: the lot of A/water") for line in bare.missing)
    assert "not recorded" in {row.state for row in bare.lots}


def test_half_a_record_is_traced_and_what_lacks_is_said(repo: Repo) -> None:
    one = head(repo)
    bare = f'recipe = "lotion"\ncommit = "{one}"\nhash = "{"0" * 64}"\nsize = "100 kg"\ndate = 2026-03-01\n'
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one), {"batches/b.toml": bare})
    found = traced(repo.path, "a", "b")

    assert () == found.explained
    for words in ("weighing of", "lot of", "what was done in any step", "result of pH, viscosity", "not closed"):
        assert any(line.startswith("b: ") and words in line for line in found.missing), words


def test_premixes_that_hold_each_other_end(repo: Repo) -> None:
    """g-1 names g-2 as its gum's lot and g-2 names g-1: a circle is not followed."""
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "g-2", "18.0 Pa*s"),
        gel("g-2", one, "g-1", "12.0 Pa*s"),
        lotion("a", one),
        lotion("b", one, lots={"gel": "g-2"}, results=THIN),
    )

    assert "lots/gel/kelp-gum/result/kelp-gum/viscosity" in fits(traced(repo.path, "a", "b"))


def test_a_charge_in_one_batch_only(repo: Repo) -> None:
    one = head(repo)
    two = repo.commit("Without gum", {"lotion.toml": LOTION.replace("gum   = 0.30\n", "")})
    text = lotion("b", two, results=THIN)["batches/b.toml"]
    text = "\n".join(line for line in text.splitlines() if not line.startswith("gum = ")) + "\n"
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one), {"batches/b.toml": text})
    found = traced(repo.path, "a", "b")

    assert ["recipe/amount/gum (A)"] == fits(found)
    assert [two] == [commit.oid for commit in found.explained[0].fits[0].difference.by]


def test_order_and_waiting_times(repo: Repo) -> None:
    one = head(repo)

    def timed(started: str, ended: str) -> str:
        return f'time = "8 min"\nstarted = 2026-01-20T{started}:00\nended = 2026-01-20T{ended}:00\n'

    quick = {
        "pour": timed("08:00", "08:08"),
        "stir-in": timed("08:08", "08:10"),
        "melt": timed("08:10", "08:30"),
        "emulsify": timed("08:32", "08:38"),
    }
    slow = quick | {"emulsify": timed("10:32", "10:38")}
    turned = (
        lotion("c", one)["batches/c.toml"].replace('"melt"', '"x"').replace('"pour"', '"melt"').replace('"x"', '"pour"')
    )
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one, steps=quick),
        lotion("b", one, steps=slow),
        {"batches/c.toml": turned},
    )
    waited, order = traced(repo.path, "a", "b"), traced(repo.path, "a", "c")

    assert [(2, 122)] == [(int(p.old), int(p.new)) for p in waited.making.pauses if p.before == "emulsify"]
    assert ["making/pause/emulsify"] == [item.id for item in waited.differences]
    assert ("melt", "stir-in", "pour", "emulsify") == order.making.order
    assert "making/order/steps" in [item.id for item in order.differences]


def test_what_a_note_says_is_a_symptom_where_nothing_measures_it(repo: Repo) -> None:
    one = head(repo)
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        lotion("a", one),
        lotion("b", one, steps=SHORT, more='note = "grainy, with fish eyes"\n'),
    )
    found = traced(repo.path, "a", "b")

    assert [("grit", "b")] == [(item.result, item.told) for item in found.explained]
    assert ["making/time/pour"] == fits(found, "grit")


def test_against_its_recipe_only_what_is_outside_is_explained(repo: Repo) -> None:
    one = head(repo)
    write(
        repo,
        gel("g-2", one, "k-2", "12.6 Pa*s"),
        lotion("b", one, lots={"gel": "g-2"}, weighed={"gum": "0.25 kg"}, results=THIN),
        lotion("good", one, lots={"gel": "g-2"}),
    )
    with tracer(repo.path) as found:
        bad, good = (found.against_recipe(batch(found, name)) for name in ("b", "good"))

    assert bad.aim
    assert ["making/amount/gum (A)", "lots/gel/certificate/kelp-gum/viscosity"] == fits(bad)
    assert () == good.explained
    assert "same" == bad.recipe.state


def test_a_premix_recipe_that_changed_is_seen_inside_its_batches(repo: Repo) -> None:
    one = head(repo)
    two = repo.commit("Thinner gel", {"premixes/gel.toml": GEL.replace("kelp-gum = 4.00", "kelp-gum = 3.00")})
    thin = gel("g-2", two, "k-1", "11.0 Pa*s")["batches/g-2.toml"].replace("0.4 kg", "0.3 kg").replace("9.6", "9.7")
    write(
        repo,
        gel("g-1", one, "k-1", "18.0 Pa*s"),
        {"batches/g-2.toml": thin},
        lotion("a", one),
        lotion("b", two, lots={"gel": "g-2"}, results=THIN),
    )
    found = traced(repo.path, "a", "b")

    assert ["recipe/gel/amount/kelp-gum (A)"] == fits(found)
    assert [two] == [commit.oid for commit in found.explained[0].fits[0].difference.by]
