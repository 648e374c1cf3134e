"""`git formula new`: files that can be read as they are, what is open as comments, nothing written over."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from formula_vcs.cli import main
from formula_vcs.law.packs_in_force import product_names
from formula_vcs.setup.new_recipe import FORMS, CannotBegin, form_of, template
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Files, Snapshot

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(ROOT / "recipes", tmp_path, dirs_exist_ok=True)
    for words in (["init", "-q"], ["add", "-A"], ["commit", "-qm", "x"]):
        identity = ["-c", "user.name=Ada Moor", "-c", "user.email=ada@example.org"]
        subprocess.run(["git", *identity, *words], cwd=tmp_path, check=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_recipe_begins_with_the_materials_on_file(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "recipe", "night-cream", "--product", "face cream"]) == 0
    text = (folder / "night-cream.toml").read_text("utf-8")
    data = parse(text.encode()).data
    assert data["title"] == "Night cream"
    assert data["form"] == "emulsion"
    assert data["phase"]["A"]["charge"] == {"water": "to 100"}
    assert "# preservative; on file: benzyl-alcohol-dha, benzyl-alcohol, potassium-sorbate" in text
    assert "Next:\n  write the charges of each phase" in capsys.readouterr().out
    assert main(["check", "night-cream.toml"]) == 0


@pytest.mark.parametrize("form", FORMS)
def test_every_template_can_be_read(form: str) -> None:
    for files in ({}, {"ingredients/water.toml": 'title = "W"\n[substances]\nAqua = 100\n'}):
        text = template(
            'A "title"\n', "hand cream", form, Snapshot(Files({"workspace.toml": 'title = "x"\n', **files}))
        )
        assert not parse(text.encode()).errors
        assert max(map(len, text.splitlines())) <= 120


def test_every_kind_of_product_has_a_form_or_asks_for_one() -> None:
    asked = []
    for name in product_names():
        try:
            assert form_of(name) in FORMS
        except CannotBegin as error:
            assert str(error).startswith("--form: ")  # noqa: PT017 - which names ask is counted below
            asked.append(name)
    assert {"hand cream", "shampoo", "toothpaste", "lip balm", "face toner"}.isdisjoint(asked)


def test_a_recipe_begins_from_a_version_of_another(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "recipe", "winter-cream", "--from", "hand-cream@HEAD", "--title", "Winter cream"]) == 0
    first, *rest = (folder / "winter-cream.toml").read_text("utf-8").splitlines()
    head = subprocess.run(["git", "rev-parse", "HEAD"], capture_output=True, text=True, check=True).stdout
    assert first.startswith(f"# Begun from 'hand-cream', commit {head[:12]} (content hash ")
    old = (folder / "hand-cream.toml").read_text("utf-8").splitlines()
    assert rest[0] == 'title   = "Winter cream"'
    assert rest[1:] == old[1:]
    assert "nothing that was proved of the other recipe is proved of this one" in capsys.readouterr().out
    assert main(["check", "winter-cream.toml"]) == 0


@pytest.mark.parametrize(
    ("words", "path", "line"),
    [
        (["Squalane", "--pure"], "ingredients/squalane.toml", '"Squalane" = { pct = 100, cas = "111-01-3" }'),
        (["68-26-8"], "ingredients/retinol.toml", '# "Retinol" = { pct = , cas = "68-26-8" }'),
        (["Bienenwachs", "--id", "wax"], "ingredients/wax.toml", '# "Cera Alba" = { pct = , cas = "8012-89-3" }'),
        (["Moon dust"], "ingredients/moon-dust.toml", '# "Moon dust" = '),
    ],
)
def test_an_ingredient_begins_from_the_inventory(words: list[str], path: str, line: str, folder: Path) -> None:
    assert main(["new", "ingredient", *words]) == 0
    text = (folder / path).read_text("utf-8")
    assert not parse(text.encode()).errors
    assert any(one.startswith(line) for one in text.splitlines())


def test_a_premix_is_a_recipe_and_an_ingredient(folder: Path) -> None:
    assert main(["new", "premix", "salt-water", "--title", "Salt water"]) == 0
    assert parse((folder / "ingredients/salt-water.toml").read_bytes()).data == {
        "title": "Salt water",
        "recipe": "salt-water",
    }
    assert parse((folder / "premixes/salt-water.toml").read_bytes()).data["product"] == "premix"
    assert main(["check", "premixes/salt-water.toml", "ingredients/salt-water.toml"]) == 0


def test_lots_begin_in_quarantine(folder: Path) -> None:
    assert main(["new", "lot", "kelp-gum", "2400", "KG/2401"]) == 0
    for name, number in (("kelp-gum-2400", "2400"), ("kelp-gum-kg-2401", "KG/2401")):
        data = parse((folder / f"lots/{name}.toml").read_bytes()).data
        assert (data["ingredient"], data["lot"], data["status"]) == ("kelp-gum", number, "quarantine")
    assert main(["check", "lots"]) == 0


def test_equipment_of_every_kind_passes_the_check(folder: Path) -> None:
    for kind in ("vessel", "rotor-stator", "stirrer", "propeller", "balance"):
        assert main(["new", "equipment", f"new-{kind}", "--is", kind]) == 0
    assert main(["check", "equipment"]) == 0


def test_a_pack_is_filled_in_and_then_priced(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "packaging", "tin-12-g"]) == 0
    file = folder / "packaging/tin-12-g.toml"
    assert {"title": "Tin 12 g", "item": {"tube": {}}} == parse(file.read_bytes()).data
    filled = (
        re.sub(r"(?m)^# (?!EUR)", "", file.read_text("utf-8"))
        .replace("0.00 EUR", "0.10 EUR")
        .replace('"" ', '"Gannet Tubes"')
    )
    file.write_text(filled.replace('"75 mL"', '"12 g"'), "utf-8")
    balm = folder / "lip-balm.toml"
    balm.write_text(balm.read_text("utf-8").replace("pack ", 'packaging = "tin-12-g"\npack ', 1), "utf-8")

    assert main(["check", "lip-balm.toml", "packaging/tin-12-g.toml"]) == 0
    capsys.readouterr()
    assert main(["show", "lip-balm", "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["figures"]["cost_per_pack"]["missing"] == []


def test_a_proof_pins_the_version_in_head_and_goes_on_with_the_file(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["new", "evidence", "lip-balm", "--report", "ST-1", "--passed", "2026-05-02", "--is"]
    assert main([*words, "stability"]) == 0
    assert main([*words, "challenge-test"]) == 0
    data = parse((folder / "evidence/lip-balm.toml").read_bytes()).data
    head = subprocess.run(["git", "rev-parse", "HEAD"], capture_output=True, text=True, check=True).stdout.strip()
    assert [(row["kind"], row["commit"]) for row in data["proof"]] == [("stability", head), ("challenge-test", head)]
    capsys.readouterr()
    main(["show", "lip-balm", "--evidence"])
    assert data["proof"][0]["hash"] in capsys.readouterr().out.replace("\n", "").replace(" ", "")


def test_a_house_rule_is_in_force_where_it_is_whole(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "rule", "some-day"]) == 0
    assert parse((folder / "rules/house.toml").read_bytes()).data == {}
    assert main(["new", "rule", "no-salt", "--substance", "Sodium Chloride", "--at-most", "0.01 %"]) == 0
    assert len(parse((folder / "rules/house.toml").read_bytes()).data["rule"]) == 1
    capsys.readouterr()
    main(["check"])
    assert "Sodium Chloride" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["recipe", "hand-cream", "--product", "hand cream"], "the id 'hand-cream' is taken, by hand-cream.toml"),
        (["recipe", "Night Cream", "--product", "hand cream"], "is no id of a recipe; lower case letters, digits and"),
        (["recipe", "x", "--product", "hand craem"], "'hand craem' is no product type; did you mean 'hand cream'?"),
        (["recipe", "x"], 'a recipe is begun with --product "hand cream", or --from another recipe'),
        (["recipe", "x", "--from", "hand-craem"], "did you mean 'hand-cream'?"),
        (["ingredient", "56-81-4"], "'56-81-4' is no CAS number: its check digit would be 5"),
        (["ingredient", "Glycerin"], "'ingredients/glycerin.toml' is there already; it was left alone"),
        (["ingredient", "Aqua", "and", "more"], "one ingredient at a time; 'and' is too much"),
        (["lot", "kelp-gum"], "which lots? Write the supplier's numbers"),
        (["lot", "kelp-gumm", "1"], "no ingredient is called 'kelp-gumm'; did you mean 'kelp-gum'?"),
        (["lot", "kelp-gum", "2291"], "'lots/kelp-gum-2291.toml' is there already"),
        (["lot", "kelp-gum", "a b", "a-b"], "two of these lots would have one id"),
        (["equipment", "pot"], "--is: what kind of?; say one of vessel, rotor-stator"),
        (["evidence", "hand-cream", "--is", "banana"], "--is: 'banana' is none; say one of stability"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_one_line_and_nothing_is_written(
    words: list[str], said: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*.toml")}
    assert main(["new", *words]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
    assert {path: path.read_bytes() for path in folder.rglob("*.toml")} == before


def test_a_dry_run_shows_and_writes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "equipment", "pot", "--is", "vessel", "--dry-run"]) == 0
    assert capsys.readouterr().out.startswith('# equipment/pot.toml\ntitle = "Pot"\n')
    assert not (folder / "equipment/pot.toml").exists()


def test_an_id_that_is_a_path_leads_nowhere(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "ingredient", "Retinol", "--id", "../../up"]) == 2
    assert "'../../up' is no id of an ingredient" in capsys.readouterr().err
