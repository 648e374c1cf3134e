"""``git formula uses``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.commands.bench_repo import KELP_GEL, SHOP, golden, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    return repo


def shares(data: Any) -> list[tuple[str, str, str]]:
    return [(item["recipe"], item["pct"], item["kg"]) for item in data["uses"]]


def test_the_text(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "uses", "glycerin")

    assert golden("uses.txt", said.out) == said.out
    assert 80 >= max(map(len, said.out.splitlines()))


def test_the_markdown(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "uses", "glycerin", "--format", "markdown")

    assert golden("uses.md", said.out) == said.out


def test_premixes_are_seen_through(shop: Any, capsys: Capsys) -> None:
    """14 % itself and 10 % of the 6 % of gel: 14.6 % of 100 kg."""
    data = run(capsys, "uses", "glycerin", "--format", "json").json("uses")

    assert [("polish", "14.6", "14.6"), ("toner", "1", "0.5"), ("kelp-gel", "10", "1")] == shares(data)
    assert [["14"], ["6", "10"]] == [[charge["pct"] for charge in way["charges"]] for way in data["uses"][0]["ways"]]


def test_a_premix_by_its_recipe_or_its_ingredient(shop: Any, capsys: Capsys) -> None:
    expected = [("polish", "6", "6")]

    assert expected == shares(run(capsys, "uses", "recipe:kelp-gel", "--format", "json").json("uses"))
    assert expected == shares(run(capsys, "uses", "kelp-gel", "--format", "json").json("uses"))


def test_a_substance_over_all_its_grades(shop: Any, capsys: Capsys) -> None:
    data = run(capsys, "uses", "--inci", "hydrated  SILICA", "--format", "json").json("uses")

    assert [("polish", "13.5", "13.5")] == shares(data)
    assert ["silica-polishing", "silica-thickening"] == sorted(data["ingredients"])


def test_unused_is_said_and_is_no_error(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "uses", "mica")

    assert (0, ["mica, work tree", "", "no recipe uses it"]) == (said.status, said.lines)
    assert [] == run(capsys, "uses", "mica", "--format", "json").json("uses")["uses"]
    assert [] == run(capsys, "uses", "recipe:toner", "--format", "json").json("uses")["uses"]


def test_masses_for_another_batch_and_another_moment(shop: Any, capsys: Capsys) -> None:
    shop.write({"premixes/kelp-gel.toml": KELP_GEL.replace("10.00", "20.00")})

    def seen(*words: str) -> Any:
        return shares(run(capsys, "uses", *words, "--format", "json").json("uses"))[0]

    assert ("polish", "15.2", "38") == seen("glycerin", "--batch", "250 kg")
    assert ("polish", "14.6", "14.6") == seen("glycerin@HEAD")
    assert ("polish", "14.6", "14.6") == seen("--inci", "Glycerin", "--rev", "HEAD")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("glycerine",), "no ingredient is called 'glycerine' (work tree); did you mean 'glycerin'?"),
        (("--inci", "Glicerin"), "no ingredient states 'Glicerin' (work tree); did you mean 'glycerin'?"),
        ((), "name one ingredient, or a substance with --inci, or a lot with --lot"),
        (("mica", "--inci", "Mica"), "name one ingredient, or a substance with --inci, or a lot with --lot"),
        (("toner",), "'toner' is a recipe, and an ingredient is wanted"),
    ],
)
def test_wrong_words(shop: Any, capsys: Capsys, words: tuple[str, ...], message: str) -> None:
    said = run(capsys, "uses", *words)

    assert (2, "", f"git formula: {message}\n") == (said.status, said.out, said.err)
