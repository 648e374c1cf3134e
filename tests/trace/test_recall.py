"""Where a lot went: straight, through premixes to any depth, in circles, and what the records do not tell."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.errors import UserError
from formula_vcs.trace.batch_context import Records
from formula_vcs.trace.recall import Recall, recall
from formula_vcs.workspace.snapshot import Snapshot

Make = Callable[..., Snapshot]
HEAD = f'commit = "{"a" * 40}"\nhash = "{"0" * 64}"\nsize = "10 kg"\n'


def made(recipe: str, day: str, charges: str, more: str = "") -> str:
    return f'recipe = "{recipe}"\n{HEAD}date = {day}\n{more}\n[phase.A.charge]\n{charges}\n'


def lot(ingredient: str, number: str) -> str:
    return f'ingredient = "{ingredient}"\nlot = "{number}"\n'


WATER = 'water = { weighed = "9 kg", lot = "w" }'
OIL = 'oil = { weighed = "8 kg", lot = "o" }'
GEL = 'gel = { weighed = "2 kg", lot = "g-1" }'


def gum(mass: str, name: str) -> str:
    return f'gum = {{ weighed = "{mass}", lot = "{name}" }}'


FILES = {
    "lots/gum-1.toml": lot("gum", "2291"),
    "lots/gum-2.toml": lot("gum", "2318"),
    "batches/g-1.toml": made("gel", "2026-01-02", f"{gum('1 kg', 'gum-1')}\n{WATER}", "closed = 2026-01-03"),
    "batches/c-1.toml": made("cream", "2026-01-05", f"{GEL}\n{OIL}", "packs = 100"),
    "batches/c-2.toml": made("cream", "2026-01-09", f"{GEL}\n{gum('0.5 kg', 'gum-1')}", "closed = 2026-01-10"),
    "batches/c-3.toml": made("cream", "2026-01-12", gum("0.5 kg", "gum-2"), "packs = 50"),
}


def found(workspace: Make, asked: str, files: dict[str, str] | None = None) -> Recall:
    return recall(Records(workspace({**FILES, **(files or {})})), asked)


def test_it_goes_through_premixes_with_dates_packs_and_masses(workspace: Make) -> None:
    """1 kg in 10 kg of gel, 2 kg of it in a cream: 0.2 kg; and 0.5 kg straight as well."""
    there = found(workspace, "gum-1")

    assert ["g-1", "c-1", "c-2"] == [item.batch.id for item in there.taken]
    assert [True, False, False] == [item.premix for item in there.taken]
    assert [1, Fraction(1, 5), Fraction(7, 10)] == [item.mass for item in there.taken]
    assert [((),), (("g-1",),), ((), ("g-1",))] == [item.ways for item in there.taken]
    assert (100, ("c-2",), ("c-1",)) == (there.packs, there.unknown_packs, there.open_batches)


def test_the_suppliers_number_does_where_it_is_the_only_one(workspace: Make) -> None:
    assert "gum-1" == found(workspace, "2291").lot
    with pytest.raises(UserError, match="several lots have the number '2291': gum-1, oil-1"):
        found(workspace, "2291", {"lots/oil-1.toml": lot("oil", "2291")})


def test_a_batch_that_writes_the_suppliers_number_is_not_missed(workspace: Make) -> None:
    batch = made("cream", "2026-02-01", 'gum = { weighed = "0.1 kg", lot = "2291" }', "packs = 7")
    there = found(workspace, "gum-1", {"batches/c-4.toml": batch})

    assert "c-4" in [item.batch.id for item in there.taken]
    assert 107 == there.packs


def test_a_lot_without_a_file_is_found_by_what_batches_call_it(workspace: Make) -> None:
    there = found(workspace, "o")

    assert (None, ["c-1"]) == (there.on_file, [item.batch.id for item in there.taken])


def test_a_premix_batch_is_a_lot(workspace: Make) -> None:
    assert ["c-1", "c-2"] == [item.batch.id for item in found(workspace, "g-1").taken]


def test_nothing_of_that_name(workspace: Make) -> None:
    with pytest.raises(UserError, match=r"no lot is called 'gum-3'.*did you mean 'gum-"):
        found(workspace, "gum-3")


def test_a_lot_that_nobody_took(workspace: Make) -> None:
    assert () == found(workspace, "gum-9", {"lots/gum-9.toml": lot("gum", "9")}).taken


def test_several_lots_in_one_charge(workspace: Make) -> None:
    rows = 'gum = { lots = [{ lot = "gum-2", weighed = "0.3 kg" }, { lot = "gum-1", weighed = "0.2 kg" }] }'
    there = found(workspace, "gum-1", {"batches/c-5.toml": made("cream", "2026-02-02", rows)})

    assert [Fraction(1, 5)] == [item.mass for item in there.taken if item.batch.id == "c-5"]


def test_a_missing_weighing_makes_the_mass_unknown_and_hides_no_batch(workspace: Make) -> None:
    batch = made("cream", "2026-02-03", 'gel = { target = "2 kg", lot = "g-1" }')
    there = found(workspace, "gum-1", {"batches/c-6.toml": batch})

    assert [None] == [item.mass for item in there.taken if item.batch.id == "c-6"]


def test_batches_in_a_circle_are_listed_once(workspace: Make) -> None:
    back = 'gel = { weighed = "1 kg", lot = "r-2" }'
    forth = 'gel = { weighed = "1 kg", lot = "r-1" }'
    files = {
        "batches/r-1.toml": made("gel", "2026-03-01", f"{back}\n{gum('1 kg', 'gum-1')}"),
        "batches/r-2.toml": made("gel", "2026-03-02", forth),
    }
    there = found(workspace, "gum-1", files)

    assert there.circle
    assert 1 == [item.batch.id for item in there.taken].count("r-1")
    assert 1 == [item.batch.id for item in there.taken].count("r-2")


def test_a_long_chain_of_premixes_ends(workspace: Make) -> None:
    """Two thousand batches, each made of the one before: more than a stack of calls would hold."""
    files = {"batches/n-0.toml": made("gel", "2026-03-01", 'gum = { weighed = "1 kg", lot = "gum-1" }')}
    for number in range(1, 2000):
        charge = f'gel = {{ weighed = "1 kg", lot = "n-{number - 1}" }}'
        files[f"batches/n-{number}.toml"] = made("gel", "2026-03-01", charge)
    there = found(workspace, "gum-1", files)

    assert 2003 == len(there.taken)
    assert [1] == [item.mass for item in there.taken if item.batch.id == "n-1999"]


def test_a_file_that_does_not_parse_is_said(workspace: Make) -> None:
    there = found(workspace, "gum-1", {"batches/bad.toml": "recipe = \n"})

    assert ("batches/bad.toml",) == there.unread


def test_packs_of_a_batch_whose_rest_went_into_another_count(workspace: Make) -> None:
    """The rest of c-1 was worked into c-7: its 100 packs went out all the same, and c-7's 30 as well."""
    again = made("cream", "2026-02-10", 'cream = { weighed = "1 kg", lot = "c-1" }', "packs = 30")
    there = found(workspace, "gum-1", {"batches/c-7.toml": again})

    assert [("c-1", False, True), ("c-7", False, False)] == [
        (item.batch.id, item.premix, item.taken_up) for item in there.taken if item.batch.id in ("c-1", "c-7")
    ]
    assert 130 == there.packs


def test_a_premix_that_nobody_used_stands_in_the_store(workspace: Make) -> None:
    gel = 'title = "Gel"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\n'
    spare = made("gel", "2026-02-11", gum("1 kg", "gum-1"))
    there = found(workspace, "gum-1", {"premixes/gel.toml": gel, "batches/g-2.toml": spare})

    assert ("g-2",) == there.in_stock
    assert "g-2" not in there.unknown_packs


def test_a_batch_that_names_no_lot_of_the_material_is_said(workspace: Make) -> None:
    nameless = made("cream", "2026-02-12", 'gum = { weighed = "0.1 kg" }')
    planned = made("cream", "2026-02-13", 'gum = { target = "0.1 kg" }')
    there = found(workspace, "gum-1", {"batches/c-8.toml": nameless, "batches/c-9.toml": planned})

    assert ("c-8",) == there.unnamed
    assert "c-8" not in [item.batch.id for item in there.taken]
