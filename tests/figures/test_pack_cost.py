"""The whole cost of a pack: raw materials with what is lost, and every piece of the packaging."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.diff.apply import apply
from formula_vcs.diff.diff import diff
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.pack_cost import cost_per_pack, filling, pieces_for
from formula_vcs.model.facts import unread
from formula_vcs.model.formula import Formula
from formula_vcs.toml.price_list import read_packaging
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.write_facts import rewritten
from formula_vcs.units.unit_reading import read_quantity
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
DAY = datetime.date(2026, 6, 1)
# water is free here, glycerin 2.00 EUR/kg: 5 % of it makes 0.10 EUR/kg
CREAM = (
    'title = "Cream"\npack = "100 g"\npackaging = "tube"\nbatch = "1000 kg"\n\n'
    '[phase.A.charge]\nwater = "to 100"\nglycerin = 5.00\n'
)
TUBE = """\
title = "Tube 100 g"
holds = "100 g"

[item.tube]
title    = "Tube, printed"
supplier = "Gannet Tubes"
scrap    = "2 %"

[[item.tube.price]]
cost = "0.20 EUR"

[[item.tube.price]]
cost = "0.147 EUR"
from = 10000

[[item.tube.price]]
cost  = "0.98 EUR"
from  = 10000
since = 2027-01-01

[item.box]
title = "Box of twelve"
each  = "1/12"

[[item.box.price]]
cost = "0.60 EUR"
"""
WATER = 'title = "Water"\n[substances]\n"Aqua" = 100\n[[price]]\ncost = "0.00 EUR/kg"\n'


def formula(workspace: MakeWorkspace, cream: str = CREAM, tube: str | None = TUBE, more: str = "") -> Formula:
    files = {"cream.toml": cream, "packaging/tube.toml": tube, "ingredients/water.toml": WATER}
    if more:
        files["workspace.toml"] = more
    snapshot = workspace(files)
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    return snapshot.formula(recipe)


def cost(made: Formula, batch: str | None = None) -> Figure:
    return cost_per_pack(Breakdown(made), Terms(DAY, None if batch is None else read_quantity(batch, "mass")))


def test_bulk_and_pieces_make_the_cost_of_a_pack(workspace: MakeWorkspace) -> None:
    """0.010 of bulk; 10,000 packs take 10,205 tubes: 0.147 / 0.98 = 0.15; a twelfth of 0.60."""
    found = cost(formula(workspace))

    assert Fraction("0.21") == found.value
    assert "per pack: bulk 0.010, tube 0.150, box 0.050 EUR" in found.basis


def test_the_batch_decides_the_break_of_the_pieces(workspace: MakeWorkspace) -> None:
    """979 kg fill 9,790 packs, which take 9,990 tubes; 980 kg take just 10,000 of them."""
    made = formula(workspace)

    assert Fraction("0.06") + Fraction("0.20") / Fraction("0.98") == cost(made, "979.99 kg").value
    assert Fraction("0.21") == cost(made, "980 kg").value


def test_losses_and_yield_are_in_the_bulk(workspace: MakeWorkspace) -> None:
    lossy = TUBE.replace('holds = "100 g"', 'holds = "100 g"\noverfill = "2 %"\nloss = "4 %"')
    found = cost(formula(workspace, CREAM.replace("batch =", 'yield = "85 %"\nbatch ='), lossy), "5000 kg")

    assert Fraction("0.01") * Fraction("1.02") / Fraction("0.96") / Fraction("0.85") + Fraction("0.2") == found.value
    assert "bulk of a pack: with yield 85 %, overfill 2 %, loss 4 %" in found.basis


def test_a_batch_has_its_own_overfill_and_yield(workspace: MakeWorkspace) -> None:
    lossy = TUBE.replace('holds = "100 g"', 'holds = "100 g"\noverfill = "2 %"\nloss = "4 %"')
    made = formula(workspace, CREAM.replace("batch =", 'yield = "85 %"\nbatch ='), lossy)

    assert (Fraction("0.02"), Fraction("0.816")) == filling(made)
    assert (Fraction(0), Fraction("0.912")) == filling(made, Fraction(0), Fraction("0.95"))


def test_pieces_are_counted_up(workspace: MakeWorkspace) -> None:
    assert ["tube (Tube, printed): 1,021, 2 % of them scrap", "box (Box of twelve): 84"] == list(
        pieces_for(formula(workspace), 1000)
    )


@pytest.mark.parametrize(
    ("tube", "missing"),
    [
        (None, "tube: no such packaging, or its file does not parse"),
        ("title = ", "tube: no such packaging, or its file does not parse"),
        (TUBE.replace('[[item.box.price]]\ncost = "0.60 EUR"\n', ""), "tube/box: no price"),
        (TUBE.replace('"0.60 EUR"\n', '"0.60 EUR"\nsince = 2026-06-02\n'), "tube/box: no price in force on 2026-06-01"),
        (TUBE.replace("0.60 EUR", "0.60 USD"),
         "tube/box: priced in USD, and workspace.toml has no [[rate]] of USD in EUR"),
        (TUBE.replace('"2 %"', '"100 %"'), "tube/tube: a value of it cannot be read"),
        (TUBE.replace("holds", 'loss = "100 %"\nholds', 1), "tube: its loss cannot be read"),
        (TUBE.replace("holds", 'overfill = "2 kg"\nholds', 1), "tube: its overfill cannot be read"),
        (TUBE.replace("0.60 EUR", "0.60 EUR/kg"), "tube/box: a value of it cannot be read"),
    ],
)  # fmt: skip
def test_what_is_not_known_is_named(tube: str | None, missing: str, workspace: MakeWorkspace) -> None:
    found = cost(formula(workspace, tube=tube))

    assert (None, (missing,)) == (found.value, found.missing)


def test_a_piece_in_another_currency_is_converted(workspace: MakeWorkspace) -> None:
    shed = 'title = "Shed"\ncurrency = "EUR"\n[[rate]]\nof = "USD"\nis = "0.5 EUR"\nday = 2026-05-01\n'
    found = cost(formula(workspace, tube=TUBE.replace("0.60 EUR", "1.20 USD"), more=shed))

    assert Fraction("0.21") == found.value
    assert "tube/box: converted at 1 USD = 0.5 EUR, rate of 2026-05-01" in found.basis


def test_without_packaging_it_is_the_raw_materials(workspace: MakeWorkspace) -> None:
    found = cost(formula(workspace, CREAM.replace('packaging = "tube"\n', "")))

    assert (Fraction("0.01"), ()) == (found.value, found.basis)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("", "", ""),
        ('"0.60 EUR"', '"0.66 EUR"', "packaging 'tube', item box price: 0.60 → 0.66 EUR (+10.0 %)"),
        ("Gannet Tubes", "Skua Tubes", "packaging 'tube', item tube supplier: Gannet Tubes → Skua Tubes"),
        ('scrap    = "2 %"\n', "", "packaging 'tube', item tube scrap: was 2 %, now left out"),
    ],
)
def test_what_changes_in_a_packaging_is_a_change_of_the_recipe(
    old: str, new: str, words: str, workspace: MakeWorkspace
) -> None:
    before, after = formula(workspace), formula(workspace, tube=TUBE.replace(old, new) if old else TUBE)
    changes = diff(before, after)

    assert ([words] if words else []) == [change.text for change in changes]
    assert after == apply(before, changes)


@pytest.mark.parametrize(("cream", "tube"), [(CREAM.replace('"tube"', '"jar"'), TUBE), (CREAM, None)])
def test_a_swap_brings_the_other_file_along(cream: str, tube: str | None, workspace: MakeWorkspace) -> None:
    sides = []
    for recipe, file in ((CREAM, TUBE), (cream, tube)):
        files = {
            "cream.toml": recipe,
            "packaging/tube.toml": file,
            "packaging/jar.toml": TUBE.replace("Tube 100", "Jar"),
        }
        snapshot = workspace(files)
        found = snapshot.recipe("cream")
        assert found is not None
        sides.append(snapshot.formula(found))
    changes = diff(sides[0], sides[1])

    assert 1 == len(changes)
    assert sides[1] == apply(sides[0], changes)
    assert sides[0] == apply(sides[1], diff(sides[1], sides[0]))


def read(text: str) -> dict[str, str]:
    facts = read_packaging(parse(text.encode()).data)
    return {"/".join(path): value.message for path, value in unread(facts)}


@pytest.mark.parametrize(
    ("old", "new", "path", "words"),
    [
        ('title = "Tube 100 g"\n', "", "title", "'title' is missing"),
        ('"1/12"', '"1/0"', "item/box/each", 'write 1, or "1/12" of one for twelve'),
        ('"1/12"', "0", "item/box/each", "is none; leave out what a pack does not take"),
        ('"2 %"', '"100 %"', "item/tube/scrap", "with 100 % lost nothing is left"),
        ('"2 %"', '"2 kg"', "item/tube/scrap", "is a mass; a share is wanted here"),
        ("0.60 EUR", "0.60 EUR/kg", "item/box/price/1/cost", "money"),
        ('cost = "0.60 EUR"', "from = 5", "item/box/price/1/cost", "'cost' is missing in [[price]] number 1"),
        ("from = 10000\n", "", "item/tube/price/2/again", "is for the same quantity and day as an earlier one"),
        ("supplier", "suplier", "item/tube/suplier", "did you mean 'supplier'?"),
        ('holds = "100 g"', 'holds = "0 g"', "holds", "is nothing"),
    ],
)
def test_what_is_no_packaging(old: str, new: str, path: str, words: str) -> None:
    assert old in TUBE
    found = read(TUBE.replace(old, new, 1))

    assert [path] == list(found)
    assert words in found[path]


def test_a_file_without_pieces_is_none() -> None:
    assert {"item": "'item' is missing"} == read('title = "Tube"\n')
    assert ["item"] == list(read('title = "Tube"\n[item]\n'))


def test_a_price_of_a_piece_is_written_back() -> None:
    new = TUBE.replace('cost = "0.60 EUR"', 'cost = "0.66 EUR"\nsince = 2026-07-01').replace('"2 %"', '"3 %"')
    facts = read_packaging(parse(new.encode()).data)

    assert facts == read_packaging(parse(rewritten(TUBE, facts, "packaging").encode()).data)


@pytest.mark.parametrize(("out", "said"), [("101 %", "is more than what went in"), ("0 %", "is nothing")])
def test_a_yield_that_cannot_be_leaves_the_cost_not_known(out: str, said: str, workspace: MakeWorkspace) -> None:
    made = formula(workspace, CREAM.replace("batch =", f'yield = "{out}"\nbatch ='))

    assert [said in value.message for _, value in unread(made.recipe.facts)] == [True]
    assert (None, ("the recipe's yield cannot be read",)) == (cost(made).value, cost(made).missing)
