"""``git formula survey``: the portfolio in one table, and what if."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest

from tests.commands.bench_repo import SHOP, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]
RULE = '[[rule]]\nid = "less-glycerin"\nkind = "limit"\nsubstances = ["Glycerin"]\nat_most = "10 %"\nsource = "HS-1"\n'


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    return repo


def asked(capsys: Capsys, *words: str) -> Any:
    """Ask, and give the data."""
    said = run(capsys, "survey", *words, "--format", "json")
    assert said.err.count("\n") <= 1
    return said.json("survey")


def by_id(data: Any) -> dict[str, Any]:
    return {one["recipe"]: one for one in data["recipes"]}


def test_every_recipe_stands_in_the_table_with_what_show_says(shop: Any, capsys: Capsys) -> None:
    data = asked(capsys)
    shown = run(capsys, "show", "polish", "--format", "json").json("show")
    polish = by_id(data)["polish"]
    assert {"polish", "toner", "kelp-gel"} <= set(by_id(data))
    assert shown["figures"]["cost_per_kg"]["value"] == polish["now"]["cost_per_kg"]
    assert [(one["claim"], one["verdict"]) for one in polish["now"]["claims"]] == [
        (name, one["verdict"]) for name, one in shown["claims"].items()
    ]
    assert polish["then"] is None


def test_another_price_moves_costs_and_nothing_else(shop: Any, capsys: Capsys) -> None:
    """14 % of glycerin and 6 % of a gel with 10 % of it: 14.6 % of the price more, times what it rises."""
    before = by_id(asked(capsys))
    data = by_id(asked(capsys, "--price", "glycerin=+50 %"))
    dearer = by_id(asked(capsys, "--price", "glycerin=+100 %"))
    for name, one in data.items():
        assert one["now"] == before[name]["now"]
        if one["then"] is not None:
            rises = [
                float(each["then"]["cost_per_kg"]) - float(each["now"]["cost_per_kg"]) for each in (one, dearer[name])
            ]
            assert rises[1] == pytest.approx(2 * rises[0])
            assert rises[0] > 0
            assert (one["then"]["status"], one["then"]["blocks"]) == (one["now"]["status"], one["now"]["blocks"])
    assert data["polish"]["then"] is not None
    assert data["kelp-gel"]["then"] is not None


def test_what_if_says_what_a_real_edit_would(shop: Any, capsys: Capsys) -> None:
    """The same price written into the file, the same rule put into the folder: the same answers."""
    text = (shop.path / "ingredients/glycerin.toml").read_text("utf-8")
    shop.write({"house.toml.txt": RULE})
    foreseen = by_id(asked(capsys, "--price", "glycerin=9.90 EUR/kg", "--rule", "house.toml.txt"))
    start = text.index("[[price]]")
    shop.write({
        "ingredients/glycerin.toml": text[:start] + '[[price]]\ncost = "9.90 EUR/kg"\n', "rules/more.toml": RULE,
    })  # fmt: skip
    edited = by_id(asked(capsys))
    for name, one in foreseen.items():
        then = one["then"] or one["now"]
        assert then == edited[name]["now"]
    assert "block [limit]" in " ".join(foreseen["polish"]["broken"])
    assert foreseen["polish"]["breaks"] is True
    assert foreseen["toner"]["breaks"] is False


def test_a_replaced_material_is_the_recipe_with_it_written_in(shop: Any, capsys: Capsys) -> None:
    foreseen = by_id(asked(capsys, "--replace", "silica-thickening=silica-polishing"))["polish"]
    path = shop.path / "polish.toml"
    path.write_text(path.read_text("utf-8").replace("silica-thickening = 4.50", "silica-polishing = 4.50"), "utf-8")
    assert by_id(asked(capsys))["polish"]["now"] == foreseen["then"]
    assert foreseen["breaks"] is True
    assert any("[shear-at-most]" in words for words in foreseen["broken"])


def test_amounts_of_one_material_in_one_phase_are_added_up(shop: Any, capsys: Capsys) -> None:
    """The toner has glycerin and citric acid in one phase: replaced, 1.00 and 0.10 are 1.10."""
    foreseen = by_id(asked(capsys, "--replace", "citric-acid=glycerin"))["toner"]
    path = shop.path / "toner.toml"
    text = (
        path.read_text("utf-8").replace("glycerin    = 1.00", "glycerin    = 1.10").replace("citric-acid = 0.10\n", "")
    )
    path.write_text(text, "utf-8")
    assert by_id(asked(capsys))["toner"]["now"] == foreseen["then"]


def test_the_balance_cannot_take_in_an_amount(shop: Any, capsys: Capsys) -> None:
    found = by_id(asked(capsys, "--replace", "glycerin=water"))["toner"]
    assert "two kinds" in found["refused"]
    assert found["breaks"] is True


def test_without_a_substance_all_break_that_hold_it(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "survey", "--without", "Hydrated Silica")
    assert said.status == 1
    data = asked(capsys, "--without", "Hydrated Silica")
    assert [name for name, one in by_id(data).items() if one["breaks"]] == ["polish"]
    assert data["recipes"][0]["recipe"] == "polish"
    (cause,) = [one for one in data["causes"] if one["rule"] == "prohibited"]
    assert cause["recipes"] == ["polish"]


def test_filters_orders_and_groups(shop: Any, capsys: Capsys) -> None:
    assert set(by_id(asked(capsys, "product=scrub"))) == {"polish"}
    assert set(by_id(asked(capsys, "cost>0", "id=toner"))) == {"toner"}
    costs = [
        float(one["now"]["cost_per_kg"])
        for one in asked(capsys, "--sort", "cost")["recipes"]
        if one["now"]["cost_per_kg"]
    ]
    assert costs == sorted(costs, reverse=True)
    assert "\nface scrub\n" in run(capsys, "survey", "--by", "product").out
    assert run(capsys, "survey", "cost>much").status == 2


def test_one_row_a_recipe_for_a_spreadsheet(shop: Any, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    from formula_vcs.cli import main

    shop.write({"toner.toml": (shop.path / "toner.toml").read_text("utf-8").replace("Quay toner", "=1+1")})
    main(["survey", "--format", "csv"])
    rows = list(csv.reader(io.StringIO(capfdbinary.readouterr().out.decode("utf-8-sig"))))
    assert len(set(map(len, rows))) == 1
    titles = [row[1] for row in rows]
    assert "=1+1" not in titles
    assert any(title.endswith("=1+1") for title in titles)


def test_a_recipe_that_does_not_parse_hides_no_other(shop: Any, capsys: Capsys) -> None:
    shop.write({"toner.toml": "title = \n"})
    data = by_id(asked(capsys))
    assert data["toner"]["now"]["status"] == "unread"
    assert data["polish"]["now"]["status"] != "unread"


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (["--price", "glycerine=+3 %"], "did you mean 'glycerin'"),
        (["--price", "glycerin=7.40"], "a price is like '7.40 EUR/kg'"),
        (["--price", "glycerin=7.40 kg"], "kg"),
        (["--price", "glycerin=7.40 USD/kg"], "costs are in EUR here"),
        (["--price", "glycerin=20 %"], "rises or falls"),
        (["--price", "glycerin=-101 %"], "more than all of it"),
        (["--price", "glycerin"], "write it like"),
        (["--price", "glycerin=+1 %", "--price", "glycerin=+2 %"], "twice"),
        (["--price", "kelp-gel=+5 %"], "premix"),
        (["--replace", "glycerin"], "write it like"),
        (["--replace", "glycerin=glycerin"], "the same material"),
        (["--replace", "glycerin=water", "--replace", "water=glycerin"], "a circle"),
        (["--replace", "glycerin=water", "--replace", "water=citric-acid"], "replaced itself"),
        (["--replace", "glycerin=water", "--replace", "glycerin=citric-acid"], "twice"),
        (["--replace", "glycerin=none"], "no ingredient is called 'none'"),
        (["--without", "Unobtainium"], "no material holds"),
        (["--rule", "nowhere.toml"], "no such file"),
        (["--rule", "bad.toml"], "bad.toml:1:3"),
        (["--market", "MARS"], "MARS"),
        (["--as-of", "soon"], "no date"),
        (["--jobs", "0"], "1 to 64"),
        (["--jobs", "9999"], "1 to 64"),
    ],
)
def test_what_cannot_be_asked_is_one_line(shop: Any, capsys: Capsys, words: list[str], problem: str) -> None:
    shop.write({"bad.toml": '[[rule]]\nid = "x"\nkind = "limit"\n'})
    said = run(capsys, "survey", *words)
    assert said.status == 2
    assert problem in said.err
    assert said.err.count("\n") == 1


def test_an_empty_workspace_has_no_recipe(git_repo: Make, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    repo = git_repo({"workspace.toml": 'title = "Bare"\ncurrency = "EUR"\n'})
    monkeypatch.chdir(repo.path)
    said = run(capsys, "survey")
    assert said.status == 0
    assert "no recipe" in said.out
    assert asked(capsys)["recipes"] == []


def test_on_more_processes_the_answer_is_the_same_to_the_byte(
    shop: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:

    from formula_vcs.survey import survey
    from formula_vcs.workspace import many

    words = ("survey", "--price", "glycerin=+5 %", "--without", "Hydrated Silica", "--label", "--deadline")
    for form in ("json", "text"):
        alone = run(capsys, *words, "--jobs", "1", "--format", form)
        with monkeypatch.context() as patch:
            patch.setattr(survey, "answers", lambda job, paths, **_: many.answers(job, paths, few=0, processes=3))
            shared = run(capsys, *words, "--format", form)
        assert alone.out == shared.out
