"""Batches whose charges came from several lots, through premixes, and records of which something is lost."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from formula_vcs.trace.trace import Trace
from tests.trace.helpers_trace import SHOP, Repo, fits, gel, lotion, traced

Make = Callable[..., Repo]
THIN = 'pH = "5.0"\nviscosity = "15.8 Pa*s"\n'
THICK_GUM = 'lots = [{ lot = "x-1", weighed = "0.18 kg" }, { lot = "x-2", weighed = "0.12 kg" }]'


@pytest.fixture
def repo(git_repo: Make) -> Repo:
    """Give the shop, committed, with lots of gum of 1400 and 1250 mPa*s."""
    lots = {
        f"lots/{name}.toml": f'ingredient = "gum"\nstatus = "released"\n[certificate]\nviscosity = "{value} mPa*s"\n'
        for name, value in (("x-1", "1400"), ("x-2", "1250"))
    }
    return git_repo({**SHOP, **lots})


def several(batch: dict[str, str], charge: str, rows: str) -> dict[str, str]:
    """Give a batch with the rows of lots in place of the one lot of a charge."""
    ((path, text),) = batch.items()
    line = next(line for line in text.splitlines() if line.startswith(f"{charge} = "))
    target = line.partition(", weighed")[0]
    return {path: text.replace(line, f"{target}, {rows} }}")}


def write(repo: Repo, *files: dict[str, str]) -> None:
    for some in files:
        repo.write(some)


def of_gum(trace: Trace, ingredient: str = "gum") -> tuple[str, str]:
    (row,) = [row for row in trace.lots if row.ingredient == ingredient]
    (value,) = row.certificates
    return str(value.pair.old), str(value.pair.new)


def test_a_mixture_is_compared_by_its_mean(repo: Repo) -> None:
    """0.6 x 1400 + 0.4 x 1250 = 1340 mPa*s, a spec of 400 wide: -0.15 of it."""
    one = str(repo.git("rev-parse", "HEAD"))
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one, lots={"gum": "x-1"}))
    write(repo, several(lotion("b", one, results=THIN), "gum", THICK_GUM))
    found = traced(repo.path, "a", "b")

    assert ("1400 mPa*s", "1340 mPa*s") == of_gum(found)
    assert ["lots/certificate/gum/viscosity"] == fits(found)
    item = found.explained[0].fits[0].difference
    assert -0.15 == pytest.approx(float(item.size or 0))
    assert (
        "lot x-1 to x-1 (60 %), x-2 (40 %)",
        "x-1 1400 mPa*s, x-2 1250 mPa*s (of several lots, the mean by mass)",
    ) == (item.notes[:2])


def test_the_same_lots_in_other_shares_are_another_mixture(repo: Repo) -> None:
    one = str(repo.git("rev-parse", "HEAD"))
    turned = THICK_GUM.replace("0.18", "0.03").replace("0.12", "0.27")
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), several(lotion("a", one), "gum", THICK_GUM))
    write(repo, several(lotion("b", one, results=THIN), "gum", turned))

    assert ("1340 mPa*s", "1265 mPa*s") == of_gum(traced(repo.path, "a", "b"))


def test_without_all_masses_nothing_is_worked_out(repo: Repo) -> None:
    one = str(repo.git("rev-parse", "HEAD"))
    unknown = THICK_GUM.replace(', weighed = "0.12 kg"', "")
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), lotion("a", one, lots={"gum": "x-1"}))
    write(repo, several(lotion("b", one, results=THIN), "gum", unknown))
    found = traced(repo.path, "a", "b")

    assert ("1400 mPa*s", "None") == of_gum(found)
    assert [] == fits(found)
    assert ["lots/lot/gum"] == [item.difference.id for item in found.explained[0].open_]
    assert any("not all of their masses are recorded" in flag for flag in found.flags)


def test_a_premix_lot_in_a_part_of_the_charge_weighs_as_much(repo: Repo) -> None:
    """A tenth of the gel is of the thin gum lot: 0.7 of its spec's width, and 0.07 of it counts."""
    one = str(repo.git("rev-parse", "HEAD"))
    part = 'lots = [{ lot = "g-1", weighed = "9 kg" }, { lot = "g-2", weighed = "1 kg" }]'
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), gel("g-2", one, "k-2", "12.6 Pa*s"), lotion("a", one))
    write(repo, several(lotion("b", one, results=THIN), "gel", part))
    found = traced(repo.path, "a", "b")

    (candidate,) = found.explained[0].fits
    assert "lots/gel/certificate/kelp-gum/viscosity" == candidate.difference.id
    assert "small" == candidate.difference.grade
    assert "of gel, 10 % of it: g-2 against g-1" in candidate.difference.notes
    assert ("18.0 Pa*s", "17.5 Pa*s") == of_gum(found, "gel")


def test_what_premixes_showed_on_the_way_is_no_cause_of_its_own(repo: Repo) -> None:
    """A gel in a gel: the thin gum lot shows in both, and is one thing."""
    outer = SHOP["premixes/gel.toml"].replace("kelp-gum = 4.00", "gel = 50.00")
    named = SHOP["ingredients/gel.toml"].replace('recipe = "gel"', 'recipe = "outer"')
    lines = SHOP["lotion.toml"].replace("gel   = 10.00", "outer = 10.00")
    one = repo.commit(
        "Gel in a gel", {"premixes/outer.toml": outer, "ingredients/outer.toml": named, "lotion.toml": lines}
    )
    for name, inside, value in (("o-1", "g-1", "18.0"), ("o-2", "g-2", "13.0")):
        text = gel(name, one, inside, f"{value} Pa*s")[f"batches/{name}.toml"]
        repo.write(
            {f"batches/{name}.toml": text.replace('recipe = "gel"', 'recipe = "outer"').replace("kelp-gum", "gel")}
        )
    write(repo, gel("g-1", one, "k-1", "18.0 Pa*s"), gel("g-2", one, "k-2", "12.6 Pa*s"))
    for name, lot, results in (("a", "o-1", 'viscosity = "23.0 Pa*s"\n'), ("b", "o-2", THIN)):
        text = lotion(name, one, lots={"gel": lot}, results=results)[f"batches/{name}.toml"]
        repo.write({f"batches/{name}.toml": text.replace("gel = {", "outer = {")})
    found = traced(repo.path, "a", "b")

    assert ["lots/outer/gel/certificate/kelp-gum/viscosity"] == fits(found)
    assert {"lots/result/outer/viscosity", "lots/outer/result/gel/viscosity"} == {
        item.id for item in found.explained[0].fits[0].seen
    }


def test_targets_speak_where_the_versions_are_lost(repo: Repo) -> None:
    """Both commits are gone; the batches still say that one was to hold a tenth more gum, weighed to the gram."""
    gone = "f" * 40
    texts = [lotion(name, gone)[f"batches/{name}.toml"].replace("0.3 kg", "0.300 kg") for name in "ab"]
    repo.write(
        {"batches/a.toml": texts[0], "batches/b.toml": texts[1].replace("0.300 kg", "0.330 kg").replace("23.0", "29")}
    )
    found = traced(repo.path, "a", "b")

    assert not found.alone
    assert ["recipe/amount/gum (A)"] == fits(found)


def test_a_weighing_with_a_mistaken_unit_counts_as_not_recorded(repo: Repo) -> None:
    one = str(repo.git("rev-parse", "HEAD"))
    write(repo, lotion("a", one), lotion("b", one, weighed={"gum": "300 kg"}, results=THIN))
    found = traced(repo.path, "a", "b")

    assert any("b: the weighing of A/gum" in item for item in found.missing)


def test_functions_in_other_words_are_understood(repo: Repo) -> None:
    text = SHOP["ingredients/gum.toml"].replace('"thickener", "stabiliser"', '"Gelling agent"')
    one = repo.commit("Other words", {"ingredients/gum.toml": text})
    write(repo, lotion("a", one, lots={"gum": "x-1"}), lotion("b", one, lots={"gum": "x-2"}, results=THIN))

    assert ["lots/certificate/gum/viscosity"] == fits(traced(repo.path, "a", "b"))
