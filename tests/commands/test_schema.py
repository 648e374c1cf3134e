"""``git formula schema``, and the lines of new files that name a schema: as an editor's schema checker sees them."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from formula_vcs.cli import main
from formula_vcs.setup import schemas
from formula_vcs.toml.file_schema import FILES

TAPLO = shutil.which("taplo", path=str(Path(sys.executable).parent)) or shutil.which("taplo")
Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> Path:
    """The starter workspace, stood in."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    assert main(["init", "lab"]) == 0
    monkeypatch.chdir(tmp_path / "lab")
    capsys.readouterr()
    return tmp_path / "lab"


def _lint(folder: Path, *more: str) -> subprocess.CompletedProcess[str]:
    assert TAPLO is not None
    return subprocess.run([TAPLO, "lint", *more], cwd=folder, capture_output=True, text=True, check=False)


needs_taplo = pytest.mark.skipif(TAPLO is None, reason="taplo is not installed")


def test_every_starter_file_names_its_schema_by_a_path_that_is_there(lab: Path) -> None:
    files = [file for file in lab.rglob("*.toml") if file.name != ".taplo.toml"]

    assert len(files) == 5
    for file in files:
        line = file.read_text("utf-8").partition("\n")[0]
        assert line.startswith("#:schema ")
        assert "$schema" in json.loads((file.parent / line.removeprefix("#:schema ")).read_text("utf-8"))


@needs_taplo
@pytest.mark.parametrize("lines", [True, False])
def test_an_editor_s_checker_takes_the_starter_and_names_the_line_of_what_is_wrong(lab: Path, lines: bool) -> None:
    """By the line in each file, and by ``.taplo.toml`` alone."""
    for file in lab.rglob("*.toml"):
        if not lines and file.name != ".taplo.toml":
            file.write_text(file.read_text("utf-8").partition("\n")[2])
    if lines:
        (lab / ".taplo.toml").unlink()
    assert _lint(lab).returncode == 0

    gel = lab / "base-gel.toml"
    gel.write_text(gel.read_text("utf-8").replace("form ", "shape "))
    said = _lint(lab)
    assert said.returncode == 1
    assert re.search(r"shape.*unexpected", said.stderr)
    assert "base-gel.toml" in said.stderr

    gel.write_text(gel.read_text("utf-8").replace("shape ", "form "))
    water = lab / "ingredients" / "water.toml"
    water.write_text(re.sub(r"(?m)^density .*$", "density = 1", water.read_text("utf-8")))
    assert "1 is not of type" in _lint(lab).stderr


@pytest.mark.parametrize(
    ("typed", "path"),
    [
        (["recipe", "night-cream", "--product", "face cream"], "night-cream.toml"),
        (["recipe", "twin", "--from", "base-gel"], "twin.toml"),
        (["ingredient", "Glycerin", "--id", "glycerin"], "ingredients/glycerin.toml"),
        (["lot", "water", "W1"], "lots/water-w1.toml"),
        (["equipment", "pot", "--is", "vessel"], "equipment/pot.toml"),
        (["rule", "less", "--substance", "Aqua", "--at-most", "0.8 %"], "rules/house.toml"),
    ],
)
def test_a_new_file_names_its_schema_in_the_first_line_once(typed: list[str], path: str, lab: Path) -> None:
    assert main(["new", *typed]) == 0
    text = (lab / path).read_text("utf-8")

    assert text.startswith(schemas.schema_line(path))
    assert text.count("#:schema") == 1
    assert (lab / path).parent.joinpath(text.partition("\n")[0].removeprefix("#:schema ")).is_file()


def test_where_the_workspace_has_no_schemas_a_new_file_names_none(lab: Path) -> None:
    shutil.rmtree(lab / ".schemas")

    assert main(["new", "ingredient", "Glycerin", "--id", "glycerin"]) == 0
    assert "#:schema" not in (lab / "ingredients" / "glycerin.toml").read_text("utf-8")


def test_they_are_written_into_a_workspace_that_is_there_and_what_is_somebody_s_own_stays(
    lab: Path, capsys: Capsys
) -> None:
    shutil.rmtree(lab / ".schemas")
    (lab / ".taplo.toml").write_text("# mine\n")

    assert main(["schema", "--write"]) == 0
    assert sorted(path.stem for path in (lab / ".schemas").iterdir()) == sorted(schemas.NAMES)
    assert (lab / ".taplo.toml").read_text() == "# mine\n"
    assert "which is yours" in capsys.readouterr().out


def test_a_link_in_the_place_of_the_folder_is_not_followed(lab: Path, tmp_path: Path, capsys: Capsys) -> None:
    shutil.rmtree(lab / ".schemas")
    (tmp_path / "elsewhere").mkdir()
    (lab / ".schemas").symlink_to(tmp_path / "elsewhere")

    assert main(["schema", "--write"]) == 2
    assert "no folder of its own" in capsys.readouterr().err
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_the_catalog_has_the_addresses_of_schemas_that_are_there(capsys: Capsys) -> None:
    assert main(["schema", "--catalog"]) == 0
    catalog = json.loads(capsys.readouterr().out)

    assert len(catalog["schemas"]) == len(schemas.NAMES)
    for entry in catalog["schemas"]:
        address = urlsplit(entry["url"])
        assert address.scheme == "file"
        assert "$schema" in json.loads(Path(unquote(address.path)).read_text("utf-8"))
    assert catalog["schemas"][-1]["fileMatch"] == ["**/*.toml"]


def test_they_are_all_there_is_and_lie_where_their_readers_look() -> None:
    assert set(FILES) | {schemas.IMPORT} == set(schemas.NAMES.values())
    assert {kind: files for kind, (files, _) in FILES.items()} == {
        kind: files for kind, files in schemas._FILES.items() if kind != schemas.IMPORT
    }


@pytest.mark.parametrize("name", schemas.NAMES)
def test_each_is_printed(name: str, capsys: Capsys) -> None:
    assert main(["schema", name]) == 0
    assert json.loads(capsys.readouterr().out)["type"] == "object"


def test_a_kind_and_all_kinds_are_not_asked_for_at_once(capsys: Capsys) -> None:
    assert main(["schema", "recipe", "--catalog"]) == 2
    assert "leave the kind out" in capsys.readouterr().err
