"""One slip of a pen in one file: it is found there, and what shows the rest goes on."""

from __future__ import annotations

import io
import shutil
from contextlib import redirect_stdout
from pathlib import Path

import pytest

from formula_vcs.cli import main

RECIPES = Path(__file__).resolve().parents[2] / "recipes"
OVER = (
    ("face-toner.toml", "hyaluronate", "90"),
    ("hand-cream.toml", "glycerin", "90"),
    ("hand-cream.toml", "glycerin", "500"),
)


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the demo's files, without its records, and stand in them."""
    folder = tmp_path / "shed"
    shutil.copytree(RECIPES, folder, ignore=shutil.ignore_patterns("batches", "evidence", "lots"))
    monkeypatch.chdir(folder)
    return folder


def slipped(folder: Path, file: str, charge: str, pct: str) -> None:
    path = folder / file
    lines = path.read_text("utf-8").splitlines(keepends=True)
    at = next(number for number, line in enumerate(lines) if line.split("=")[0].strip() == charge)
    lines[at] = f"{charge} = {pct}\n"
    path.write_text("".join(lines), "utf-8")


def run(*words: str) -> tuple[int, str]:
    with redirect_stdout(io.StringIO()) as out:
        status = main(words)
    return status, out.getvalue()


@pytest.mark.parametrize(("file", "charge", "pct"), OVER)
def test_a_negative_balance_is_said_and_every_page_is_drawn(shed: Path, file: str, charge: str, pct: str) -> None:
    """A slipped decimal makes the balance negative: the check says so, and show draws what can be drawn."""
    slipped(shed, file, charge, pct)
    status, _ = run("check")

    assert status == 1
    name = file.removesuffix(".toml")
    for form in ("text", "json"):
        assert run("show", name, "--process", "--format", form)[0] in (0, 1), form
    for words in (("show", name), ("label", name), ("uses", charge)):
        assert run(*words)[0] in (0, 1, 2), words


@pytest.mark.parametrize("kind", ["[]", "{}", '["limit"]', "1"])
def test_a_kind_of_rule_that_is_no_word(shed: Path, kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A list where the kind of a row stands is a finding of that line."""
    (shed / "rules").mkdir(exist_ok=True)
    (shed / "rules" / "house.toml").write_text(f'[[rule]]\nid = "a"\nkind = {kind}\nsource = "HS"\n', "utf-8")
    status, out = run("check")

    assert status == 1, capsys.readouterr().err
    assert "rules/house.toml:3:" in out


def test_a_premix_that_contains_itself_by_way_of_another(shed: Path) -> None:
    """The circle is a finding, wherever the law looks for what is in it."""
    (shed / "ingredients" / "sodium-benzoate.toml").write_text('title = "Circle"\nrecipe = "hand-cream"\n', "utf-8")
    status, out = run("check")

    assert status == 1
    assert "[premix-cycle]" in out
