"""``git formula label``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.commands.bench_repo import SHOP, golden, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    return repo


def test_the_text(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "label", "polish")

    assert golden("label.txt", said.out) == said.out
    assert 80 >= max(map(len, said.out.splitlines()))


def test_the_markdown(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "label", "polish", "--format", "markdown")

    assert golden("label.md", said.out) == said.out


def test_the_line_is_at_1_percent_in_the_eu_and_above_it_in_the_us(shop: Any, capsys: Capsys) -> None:
    """1.00 % of glycerin: Article 19(1)(g) frees what is below 1 %, 21 CFR 701.3(f)(2) what is not above it."""
    parts = {
        market: {
            item["inci"]: item["part"]
            for item in run(capsys, "label", "toner", "--format", "json", *words).json("label")["label"]
        }
        for market, words in (("EU", ("--market", "EU")), ("US", ("--market", "US")), ("default", ()))
    }

    assert {"Aqua": "ordered", "Glycerin": "ordered", "Citric Acid": "free"} == parts["EU"]
    assert {"Water": "ordered", "Glycerin": "free", "Citric Acid": "free"} == parts["US"]
    assert parts["US"] == parts["default"]


def test_a_material_without_a_composition_makes_the_list_incomplete(shop: Any, capsys: Capsys) -> None:
    shop.write({"ingredients/citric-acid.toml": 'title = "Citric acid"\n'})

    data = run(capsys, "label", "polish", "--format", "json").json("label")

    assert ["citric-acid: no composition"] == data["missing"]
    assert "not complete: citric-acid: no composition" in run(capsys, "label", "polish").lines


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("kelp-gel",), "'kelp-gel' is a premix: it has no label of its own, only the products it goes into"),
        (("mica",), "'mica' is an ingredient, and a recipe is wanted"),
        (("plish",), "no recipe is called 'plish' (work tree); did you mean 'polish'?"),
        (("polish@nosuch",), "unknown revision 'nosuch'"),
    ],
)
def test_wrong_words(shop: Any, capsys: Capsys, words: tuple[str, ...], message: str) -> None:
    said = run(capsys, "label", *words)

    assert (2, "", f"git formula: {message}\n") == (said.status, said.out, said.err)


def test_at_a_revision(shop: Any, capsys: Capsys) -> None:
    commit = shop.git("rev-parse", "HEAD")
    shop.write({"polish.toml": "title = \n"})

    data = run(capsys, "label", "polish@HEAD", "--format", "json").json("label")

    assert ("HEAD", commit) == (data["revision"], data["commit"])
    assert 2 == run(capsys, "label", "polish").status
