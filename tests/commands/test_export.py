"""`git formula export` as a person runs it."""

from __future__ import annotations

import importlib.util
import subprocess
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from formula_vcs.cli import main

GEL = 'title = "Gel"\nproduct = "gel"\n\n[phase.A.charge]\nwater = "to 100"\ngum   = 0.50\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "ingredients").mkdir()
    (tmp_path / "workspace.toml").write_text('title = "Works"\ncurrency = "EUR"\n')
    (tmp_path / "gel.toml").write_text(GEL)
    (tmp_path / "ingredients" / "water.toml").write_text('title = "Water"\n\n[substances]\n"Aqua" = 100\n')
    (tmp_path / "ingredients" / "gum.toml").write_text('title = "Gum"\n\n[substances]\n"Xanthan Gum" = 100\n')
    for words in (["init", "-q"], ["add", "-A"], ["commit", "-qm", "x"]):
        identity = ["-c", "user.name=Ada Moor", "-c", "user.email=ada@example.org"]
        subprocess.run(["git", *identity, *words], cwd=tmp_path, check=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_recipes_go_to_the_terminal_as_separated_values(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", "recipes"]) == 0
    assert capsys.readouterr().out.splitlines()[1:] == [
        "gel,Gel,A,,water,Water,Aqua,to 100,99.5",
        "gel,Gel,A,,gum,Gum,Xanthan Gum,0.5,0.5",
    ]


def test_materials_are_four_sheets_or_four_files(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", "materials", "-o", "m.xlsx"]) == 0
    assert openpyxl.load_workbook("m.xlsx").sheetnames == ["Materials", "Composition", "Prices", "Allergens"]
    assert main(["export", "materials", "-o", "m.csv", "--decimal", ","]) == 0
    assert sorted(path.name for path in folder.glob("*.csv")) == [
        "m-allergens.csv", "m-composition.csv", "m-prices.csv", "m.csv",
    ]  # fmt: skip
    assert main(["export", "materials"]) == 2
    assert "these are 4 tables" in capsys.readouterr().err


def test_an_export_that_is_imported_again_writes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for kind in ("recipes", "materials"):
        main(["export", kind, "-o", f"{kind}.xlsx"])
    assert main(["import", "recipes.xlsx", "materials.xlsx", "--write"]) == 0
    assert capsys.readouterr().out.endswith("Nothing to write: all that was read is on file.\n")


def test_two_versions_are_compared(folder: Path) -> None:
    (folder / "gel.toml").write_text(GEL.replace("0.50", "0.75"))
    assert main(["export", "comparison", "gel@HEAD", "gel", "-o", "c.xlsx"]) == 0
    sheet = openpyxl.load_workbook("c.xlsx")["Charges"]
    assert [cell.value for cell in sheet[1]][3:] == [
        "% in gel@HEAD",
        "% in gel (work tree)",
        "Change (percentage points)",
    ]
    assert [cell.value for cell in sheet[3]] == ["A", "gum", "Gum", 0.5, 0.75, 0.25]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["recipes", "gle"], "no recipe is called 'gle'; did you mean 'gel'?"),
        (["portfolio", "gel"], "portfolio is exported whole"),
        (["comparison", "gel"], "a comparison takes two versions"),
        (["weighings"], "there are no weighings to export"),
        (["recipes", "-o", "x.pdf"], "ends neither in .xlsx nor in .csv"),
        (["recipes", "-o", "none/x.csv"], "'none/x.csv' cannot be written"),
    ],
)
def test_what_is_wrong_is_one_line(
    arguments: list[str], words: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", *arguments]) == 2
    error = capsys.readouterr().err
    assert words in error
    assert error.count("\n") == 1


def test_a_missing_library_is_one_line(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    found: Any = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "xlsxwriter" else found(name))
    assert main(["export", "recipes", "-o", "x.xlsx"]) == 2
    assert "pip install 'formula-vcs[sheets]'" in capsys.readouterr().err
    assert not (folder / "x.xlsx").exists()
