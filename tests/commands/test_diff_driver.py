"""What git diff shows through the driver, called as git 2.39 calls it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from formula_vcs.cli import main

NOTHING = "/dev/null"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, minimal: dict[str, str]) -> Path:
    """Give a work tree with the minimal workspace at its top, and stand in it as git does."""
    for name, text in minimal.items():
        file = tmp_path / name
        file.parent.mkdir(exist_ok=True)
        file.write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def seven(path: str, old: Path | str, new: Path | str) -> list[str]:
    """Give the arguments for a file that changed, came (old is /dev/null) or went."""
    return ["diff-driver", path, str(old), "1" * 40, "100644", str(new), "0" * 40, "100644"]


@pytest.fixture
def shown(folder: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """Give a runner that shows how one file changed from a text to what lies there."""

    def show(path: str, old: str | bytes) -> str:
        before = folder / "before"
        before.write_bytes(old.encode() if isinstance(old, str) else old)
        status = main(seven(path, before, folder / path))

        assert 0 == status

        return capsys.readouterr().out

    return show


def test_an_amount_is_said_in_percentage_points(shown: Callable[..., str], minimal: dict[str, str]) -> None:
    """A recipe's change is in the chemist's words, the balance's shift included."""
    said = shown("cream.toml", minimal["cream.toml"].replace("5.00", "4.00"))

    assert "glycerin (A): 4.00 → 5.00 %, +1.00 points (+25 % of it)" in said
    assert "water (A, the balance): 96.00 → 95.00 %, −1.00 points" in said


def test_formatting_is_no_change(shown: Callable[..., str], minimal: dict[str, str]) -> None:
    """Other layout, the same meaning."""
    said = shown("cream.toml", minimal["cream.toml"].replace("glycerin = 5.00", "glycerin  =  5.0   # sticky"))

    assert "cream.toml\n  no change in meaning\n\n" == said


def test_an_ingredient_says_its_own_facts(shown: Callable[..., str], minimal: dict[str, str]) -> None:
    """The driver sees one file: the price moved."""
    said = shown("ingredients/glycerin.toml", minimal["ingredients/glycerin.toml"].replace("2.00 EUR", "1.80 EUR"))

    assert "glycerin, price: 1.80 → 2.00 EUR/kg (+11.1 %)" in said


def test_a_file_that_does_not_parse_is_shown_plainly(
    shown: Callable[..., str], folder: Path, minimal: dict[str, str]
) -> None:
    """An unreadable side falls back to the lines, and ends well."""
    (folder / "cream.toml").write_text(minimal["cream.toml"].replace("5.00", ""), encoding="utf-8")
    said = shown("cream.toml", minimal["cream.toml"])

    assert "-glycerin = 5.00" in said
    assert "+glycerin = " in said


def test_binary_content_is_named_and_not_printed(shown: Callable[..., str], minimal: dict[str, str]) -> None:
    """Bytes that are no text never reach the terminal."""
    said = shown("cream.toml", b"\0\x1b[31m")

    assert "\x1b" not in said
    assert "(binary, 6 bytes)" in said
    assert minimal["cream.toml"].splitlines()[0] in said


def test_a_file_of_no_workspace_is_shown_plainly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """*.toml may be named by the attributes of a folder that is no workspace."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "old").write_text("a = 1\n", encoding="utf-8")
    (tmp_path / "x.toml").write_text("a = 2\n", encoding="utf-8")

    assert 0 == main(seven("x.toml", tmp_path / "old", tmp_path / "x.toml"))
    assert "-a = 1\n+a = 2\n" in capsys.readouterr().out


def test_added_removed_renamed_and_unmerged(
    folder: Path, capsys: pytest.CaptureFixture[str], minimal: dict[str, str]
) -> None:
    """Every form in which git calls is answered."""
    assert 0 == main(seven("cream.toml", NOTHING, folder / "cream.toml"))
    assert "new file" in capsys.readouterr().out

    before = folder / "before"
    before.write_text(minimal["cream.toml"], encoding="utf-8")
    assert 0 == main(seven("cream.toml", before, NOTHING))
    assert "file removed" in capsys.readouterr().out

    (folder / "balm.toml").write_text(minimal["cream.toml"].replace("5.00", "6.00"), encoding="utf-8")
    renamed = [*seven("cream.toml", before, folder / "balm.toml"), "balm.toml", "similarity index 94%\n"]
    assert 0 == main(renamed)
    said = capsys.readouterr().out
    assert said.startswith("cream.toml → balm.toml\n")
    assert "glycerin (A): 5.00 → 6.00 %" in said

    assert 0 == main(["diff-driver", "cream.toml"])
    assert "cream.toml: not merged yet" in capsys.readouterr().out


def test_a_side_that_is_gone_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A temporary file that vanished ends well too."""
    assert 0 == main(seven("cream.toml", folder / "no such file", folder / "cream.toml"))
    assert "cannot be read" in capsys.readouterr().out
