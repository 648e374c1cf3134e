"""`git formula list`: a line each, filtered by anything."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from formula_vcs.cli import main

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "formula_vcs/reports/schemas/list.json").read_text("utf-8"))
DAY = ["--as-of", "2026-06-01"]


@pytest.fixture(autouse=True)
def demo(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT / "recipes")


def ids(capsys: pytest.CaptureFixture[str], *words: str) -> list[str]:
    assert main(["list", *words, *DAY, "--format", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(SCHEMA).validate(data)
    return [one["id"] for one in data["files"]]


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (["recipes"], ["face-polish", "face-toner", "gum-gel", "hand-cream", "lip-balm", "shower-wash"]),
        (["premixes"], ["citric-acid-50", "hedgerow-oils", "kelp-gel-4"]),
        (["recipes", "balm"], ["lip-balm"]),
        (["recipes", "product=gel"], ["gum-gel", "shower-wash"]),
        (["recipes", "xanthan-gum-clear"], ["shower-wash"]),
        (["recipes", "cost_per_kg>5"], ["lip-balm"]),
        (["recipes", "hand-cream", "cost_per_kg>5"], []),
        (["recipes", "inci.Glycerin>10"], ["face-polish", "gum-gel"]),
        (["ingredients", "functions=preservative", "price>5"], ["benzyl-alcohol-dha", "potassium-sorbate"]),
        (["ingredients", "used<=0"], ["sunflower-oil"]),
        (["equipment", "kind=balance"], ["bench-balance", "fine-balance", "floor-balance", "platform-balance"]),
        (["lots", "2291"], ["kelp-gum-2291"]),
    ],
)  # fmt: skip
def test_what_is_found(words: list[str], found: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert ids(capsys, *words) == found


def test_what_holds_a_word_can_be_left_out(capsys: pytest.CaptureFixture[str]) -> None:
    assert ids(capsys, "ingredients", "functions=preservative", "--without", "benzyl") == [
        "potassium-sorbate",
        "sodium-benzoate",
    ]


def test_lines_keep_to_the_width(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list", *DAY]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0] == "Recipes: 6"
    assert lines[5].split() == ["lip-balm", "Ferry", "lip", "balm", "lip", "balm", "7.8683", "EUR/kg", "passes"]


def test_a_file_that_does_not_parse_is_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "workspace.toml").write_text('title = "Works"\n')
    (tmp_path / "broken.toml").write_text("title = \n")
    monkeypatch.chdir(tmp_path)
    assert main(["list"]) == 0
    assert capsys.readouterr().out == "broken    does not parse\n"


def test_a_comparison_without_a_number_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list", "cost<cheap"]) == 2
    assert capsys.readouterr().err == (
        "git formula: 'cost<cheap': a number is wanted behind <, like 'cost_per_kg<2.5'\n"
    )
