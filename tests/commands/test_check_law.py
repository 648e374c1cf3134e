"""``check`` with packs: the horizon, the house's rules under review, and what a demo says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from formula_vcs.cli import main
from formula_vcs.commands.horizon import months
from formula_vcs.errors import UserError
from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import compare
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.published.helpers_law import DAY, material

ROOT = Path(__file__).resolve().parents[2]
ZINC = {
    "workspace.toml": 'title = "x"\n',
    "rinse.toml": (
        'title = "x"\nproduct = "mouthwash"\nmarkets = ["EU"]\n[phase.A.charge]\nwater = "to 100"\nzinc = 0.5\n'
    ),
    "ingredients/water.toml": material({"Aqua": 100}),
    "ingredients/zinc.toml": material({"Zinc Chloride": 100}),
}
HOUSE = (
    '[[rule]]\nid = "house-zinc"\nsubstances = ["Zinc Chloride"]\nkind = "limit"\nat_most = "{} %"\nsource = "HS-1"\n'
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name, text in ZINC.items():
        file = tmp_path / name
        file.parent.mkdir(exist_ok=True)
        file.write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_what_is_on_the_horizon(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert 1 == main(["check", "--horizon", "24m", "--as-of", "2026-11-24"])

    shown = " ".join(capsys.readouterr().out.split())
    assert "from 2027-01-01 on rinse: block [limit] rinse.toml:6:1" in shown
    assert "0.10 % is allowed in a mouthwash (oral)" in shown
    assert "may be sold until 2028-06-30" in shown
    assert "1 recipe, up to 2028-11-24: 1 will not comply" in shown


def test_a_horizon_as_json(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "--horizon", "2y", "--as-of", "2026-11-24", "--format", "json", "--fail-on", "never"])

    data = json.loads(capsys.readouterr().out)
    schema = json.loads((ROOT / "formula_vcs/reports/schemas/horizon.json").read_text("utf-8"))
    jsonschema.validate(data, schema)
    assert ["2027-01-01"] == [turn["from"] for turn in data["turns"]]


def test_a_horizon_as_markdown(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "--horizon", "2y", "--as-of", "2026-11-24", "--format", "markdown"])

    assert "2027-01-01" in capsys.readouterr().out


def test_a_day_in_the_future(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == main(["check", "--as-of", "2026-12-31", "--fail-on", "block"])
    assert 1 == main(["check", "--as-of", "2027-01-01"])


@pytest.mark.parametrize("text", ["soon", "0m", "999y", "-3m"])
def test_what_is_no_horizon(text: str) -> None:
    with pytest.raises(UserError):
        months(text)


def test_months() -> None:
    assert (24, 24, 6) == (months("24m"), months("2y"), months("6 months"))


def _snapshot(at_most: str) -> Snapshot:
    other = {"other.toml": ZINC["rinse.toml"].replace("zinc = 0.5\n", "")}
    return Snapshot(Files({**ZINC, **other, "rules/house.toml": HOUSE.format(at_most)}))


def test_a_changed_house_rule_touches_the_recipes_that_it_is_about() -> None:
    with _snapshot("0.6") as old, _snapshot("0.4") as new:
        found = compare(old, new, Terms(DAY))

    (review,) = found.reviews
    assert "rinse" == review.recipe
    (change,) = review.changes
    assert "rule/house/rule/house-zinc/at_most" == change.where
    assert "house rule house-zinc, at most: 0.6 % \u2192 0.4 %" == change.text
    (broken,) = review.new
    assert ("limit", (change.id,)) == (broken.finding.rule, broken.causes)
    assert () == found.beside


def test_a_house_rule_that_came_is_one_change_and_is_the_cause() -> None:
    """A part of a rule means nothing, so nobody is told to take its kind without its limit."""
    with _snapshot("0.6") as whole, _snapshot("0.4") as new:
        old = Snapshot(Files({path: text for path, text in whole_texts(whole).items() if path != "rules/house.toml"}))
        found, back = compare(old, new, Terms(DAY)), compare(new, old, Terms(DAY))
    (change,) = found.reviews[0].changes
    (gone,) = back.reviews[0].changes

    assert "other:rule/house/rule/house-zinc" == change.id == gone.id
    assert change.text.startswith("house rule house-zinc: new (")
    assert "at most 0.4 %" in change.text
    assert gone.text.startswith("house rule house-zinc: removed (")
    assert [(change.id,)] == [item.causes for item in found.reviews[0].new]
    assert [(gone.id,)] == list(back.reviews[0].cures)
    assert () == found.beside == back.beside


def test_a_house_rule_without_what_its_kind_needs_is_left_out() -> None:
    """Of a row whose kind and limit both changed, a part may be tried: a limit without a limit judges nothing."""
    from formula_vcs.law.pack_rows import rows

    source: dict[tuple[str, ...], Any] = {("rule", "x", "source"): "HS", ("rule", "x", "substances"): ("Menthol",)}

    assert [] == list(rows({**source, ("rule", "x", "kind"): "limit"}, "house"))
    assert [] == list(rows(source, "house"))
    assert ["prohibited"] == [row.kind for row in rows({**source, ("rule", "x", "kind"): "prohibited"}, "house")]


def whole_texts(side: Snapshot) -> dict[str, str]:
    """Give the files of a snapshot that was made of texts."""
    found = {path: side.source.read(path) for path in side.listing}
    return {path: content.decode() for path, content in found.items() if isinstance(content, bytes)}


def test_the_demo_has_nothing_that_blocks(capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == main(["check", "--workspace", str(ROOT / "recipes"), "--as-of", "2026-11-24"])
