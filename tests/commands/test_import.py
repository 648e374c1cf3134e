"""`git formula import` as a person runs it: looks first, writes when told, one line where it cannot."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.cli import main
from tests.helpers_sheets import csv_text, xlsx

ROWS = [
    ["Formula:", "Test cream"],
    ["Phase", "Raw material", "INCI", "%"],
    ["A", "Purified water", "Aqua", "to 100"],
    ["A", "Clear gum", "Xanthan Gum", 0.5],
]
BATCH = """\
recipe = "test-cream"
commit = "3f2c9d13f2c9d13f2c9d13f2c9d13f2c9d13f2c9"
hash   = "3f2c9d13f2c9d13f2c9d13f2c9d13f2c9d13f2c9d13f2c9d13f2c9d13f2c9d13"
size   = "1 kg"
date   = 2026-03-04

[phase.A.charge]
water = { target = "995 g" }
gum   = { target = "5 g" }
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "ingredients").mkdir()
    (tmp_path / "workspace.toml").write_text('title = "Works"\ncurrency = "EUR"\n')
    water = 'title = "Purified water"\n\n[substances]\n"Aqua" = 100\n'
    (tmp_path / "ingredients" / "water.toml").write_text(water)
    (tmp_path / "cream.xlsx").write_bytes(xlsx({"Sheet1": ROWS}))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def files(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*.toml")}


def test_it_looks_first_and_writes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = files(folder)
    assert main(["import", "cream.xlsx"]) == 1
    text = capsys.readouterr().out
    assert files(folder) == before
    for line in (
        "cream.xlsx: Sheet1!2: formulas, 2 rows",
        "  Purified water = water (title)",
        "    Sheet1!D4: test-cream.toml: A/clear-gum new, 0.50 %",
        "    (--single-inci 100)",
        "new     test-cream.toml",
        "  ingredients/clear-gum.toml:1: block [missing-value] states neither",
        "Nothing was written: this is what --write would do, to 2 files.",
    ):
        assert line in text
    assert max(map(len, text.splitlines())) <= 80


def test_it_writes_what_passes_the_check_and_the_next_time_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", "cream.xlsx", "--single-inci", "100", "--write"]) == 0
    assert (folder / "test-cream.toml").read_text() == (
        'title = "Test cream"\n\n[phase.A.charge]\nwater     = "to 100"\nclear-gum = 0.50\n'
    )
    gum = (folder / "ingredients" / "clear-gum.toml").read_text()
    assert '"Xanthan Gum" = { pct = 100, cas = "11138-66-2" }' in gum
    assert "# import: functions in the Commission's inventory: " in gum
    assert main(["check"]) == 0
    capsys.readouterr()
    assert main(["import", "cream.xlsx", "--write"]) == 0
    assert capsys.readouterr().out.endswith("Nothing to write: all that was read is on file.\n")


def test_it_shows_the_files_line_by_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["import", "cream.xlsx", "--diff"])
    assert "+++ b/test-cream.toml\n" in capsys.readouterr().out
    assert not (folder / "test-cream.toml").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["none.xlsx"], "'none.xlsx' is not there; nothing was written"),
        (["cream.xlsx", "--name", "x=nothing"], "--name: no ingredient is called 'nothing'"),
        (["cream.xlsx", "--name", "x"], "--name: 'x' has no '='"),
        (["cream.xlsx", "--column", "colour=x"], "--column: 'colour=x': write ROLE=HEAD; the roles are name, inci"),
        (["cream.xlsx", "--write", "--dry-run"], "--write and --dry-run do not go together"),
        (["cream.xlsx", "--since", "May"], "'May' is no date"),
    ],
)
def test_what_is_wrong_is_one_line(
    arguments: list[str], words: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(folder)
    assert main(["import", *arguments]) == 2
    error = capsys.readouterr().err
    assert words in error
    assert error.count("\n") == 1
    assert files(folder) == before


def test_a_missing_library_is_one_line_and_csv_needs_none(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "cream.csv").write_bytes(csv_text(ROWS))
    found: Any = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "openpyxl" else found(name))
    assert main(["import", "cream.xlsx"]) == 2
    assert "pip install 'formula-vcs[sheets]'" in capsys.readouterr().err
    assert main(["import", "cream.csv"]) == 1


def test_a_broken_memory_is_said_with_its_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "import.toml").write_text("[names\n")
    assert main(["import", "cream.xlsx"]) == 2
    assert "import.toml:1:" in capsys.readouterr().err


def test_the_memory_is_no_recipe(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "import.toml").write_text('[names]\n"Gum" = "water"\n')
    assert main(["check"]) == 0
    assert "0 recipes" in capsys.readouterr().out


def test_weighings_go_into_their_batch(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["import", "cream.xlsx", "--single-inci", "100", "--write"])
    (folder / "batches").mkdir()
    (folder / "batches" / "tc-1.toml").write_text(BATCH.replace("gum  ", "clear-gum"))
    rows = [["Charge Nr.", "tc-1"], ["Rohstoff", "Ist [g]", "Charge"], ["Clear gum", "5,01", "G-7"]]
    (folder / "w.xlsx").write_bytes(xlsx({"W": rows}))
    capsys.readouterr()
    assert main(["import", "w.xlsx", "--write"]) == 0
    assert 'clear-gum = { target = "5 g", weighed = "5.01 g", lot = "G-7" }' in (
        (folder / "batches" / "tc-1.toml").read_text()
    )


def test_weighings_of_no_batch_write_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "w.xlsx").write_bytes(
        xlsx({"W": [["Batch", "x-1"], ["Material", "Weighed (g)", "Lot"], ["Gum", 5, "L"]]})
    )
    assert main(["import", "w.xlsx", "--write"]) == 2
    assert "no batch is called 'x-1'" in capsys.readouterr().err


def test_a_folder_that_is_a_link_is_not_written_through(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    outside = folder / "elsewhere"
    (folder / "ingredients").rename(outside)
    (folder / "ingredients").symlink_to(outside, target_is_directory=True)
    assert main(["import", "cream.xlsx", "--write"]) == 2
    assert "links to folders are not followed" in capsys.readouterr().err
    assert files(folder) & {"test-cream.toml", "elsewhere/clear-gum.toml"} == set()
