"""``git formula batch --dry-run`` and ``show --process``, ``--preservation`` on the demo."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from formula_vcs.cli import main
from tests.helpers_demo import RECIPES

Capsys = pytest.CaptureFixture[str]
SCHEMAS = Path(__file__).resolve().parents[2] / "formula_vcs" / "reports" / "schemas"


@pytest.fixture(autouse=True)
def _here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(RECIPES)


def said(capsys: Capsys, *words: str, status: int = 0) -> str:
    capsys.readouterr()
    assert main(words) == status
    captured = capsys.readouterr()
    return captured.err if status else captured.out


def data(capsys: Capsys, schema: str, *words: str) -> Any:
    found = json.loads(said(capsys, *words, "--format", "json"))
    jsonschema.validate(found, json.loads((SCHEMAS / f"{schema}.json").read_text("utf-8")))
    return found


DRY = ("batch", "hand-cream", "--size", "200 kg", "--on", "anchor-vessel-300", "--dry-run")


def test_doubling_the_vessel_says_what_changes(capsys: Capsys) -> None:
    """Tip speed kept from 520 to 655 mm: 40 rpm become 32, cooling takes a quarter longer."""
    out = said(capsys, *DRY)

    for words in (
        "100 kg to 200 kg on Anchor vessel 300 L", "keeps tip speed (not stated by the step: common practice)",
        "40 rpm to 32 rpm", "power per volume falls by 21 %",
        "jacket take 1.26 times as long", "'oil-pot' (Side kettle 40 L)", "more than it holds",
    ):  # fmt: skip
        assert words in " ".join(out.split()), words
    assert max(map(len, out.splitlines())) <= 80


def test_a_step_that_stays_says_what_the_larger_content_takes(capsys: Capsys) -> None:
    """The same rotor at the same speed in twice the batch: half of the energy for each kg."""
    found = data(capsys, "batch", "batch", "face-polish", "--size", "200 kg", "--on", "anchor-vessel-300", "--dry-run")
    lost = found["stay_not_kept"]["open-silica"]

    assert any(words.startswith("energy falls by 50 %") for words in lost), lost
    assert not [words for words in lost if "tip speed" in words or "gap shear" in words]


def test_json_of_a_dry_run(capsys: Capsys) -> None:
    found = data(capsys, "batch", *DRY)
    step = next(step for step in found["steps"] if step["step"] == "cool")

    assert ("100", "200") == (found["from_kg"], found["to_kg"])
    assert step["speed"]["after"] == pytest.approx(36 / 60 * 520 / 655)
    assert step["numbers"]["tip_speed"]["before"] == pytest.approx(step["numbers"]["tip_speed"]["after"])
    assert "hydrate-gum" in found["stay"]


def test_a_rotor_stator_takes_over_the_rotor_stator_steps(capsys: Capsys) -> None:
    found = data(capsys, "batch", "batch", "kelp-gel-4", "--size", "50 kg", "--on", "plant-rotor-stator", "--dry-run")

    assert [("open-gum", "gap shear")] == [(step["step"], step["rule"]) for step in found["steps"]]
    # 28 mm over 0.3 mm at 6000 rpm is the gap shear of 90 mm over 0.5 mm at 3111 rpm
    assert found["steps"][0]["speed"]["after"] * 60 == pytest.approx(3111, abs=1)


def test_a_step_states_what_it_keeps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    import shutil

    shutil.copytree(RECIPES, tmp_path / "r")
    file = tmp_path / "r" / "hand-cream.toml"
    text = file.read_text("utf-8").replace('id    = "cool"\n', 'id    = "cool"\nscale = "power per volume"\n')
    text = text.replace('id    = "add-finish"\n', 'id    = "add-finish"\nscale = "blend time"\n')
    file.write_text(text.replace('id    = "even-out"\n', 'id    = "even-out"\nscale = "gap shear"\n'), "utf-8")
    monkeypatch.chdir(tmp_path / "r")
    steps = {step["step"]: step for step in data(capsys, "batch", *DRY)["steps"]}

    assert steps["cool"]["stated"]
    assert steps["cool"]["speed"]["after"] == pytest.approx(36 / 60 * (520 / 655) ** (2 / 3))
    assert steps["add-finish"]["speed"]["after"] == pytest.approx(36 / 60)
    assert steps["even-out"]["missing"] == "gap shear wants the gaps of both machines"


def test_a_speed_that_the_machine_cannot_turn_at(capsys: Capsys) -> None:
    out = said(capsys, "batch", "hand-cream", "--size", "5 kg", "--on", "bench-rotor-stator", "--dry-run")

    assert "3,000 rpm to 5,786 rpm" in out
    out = said(capsys, "batch", "face-toner", "--size", "5 kg", "--on", "bench-stirrer", "--dry-run")
    assert "600 rpm to 1,200 rpm" in out


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("batch", "hand-cream"), "a batch needs --size"),
        (("batch", "hand-cream", "--dry-run"), "needs --size"),
        ((*DRY[:4], "--on", "anchor-vesel", "--dry-run"), "did you mean 'anchor-vessel'?"),
        (("batch", "hand-cream", "--size", "7", "--on", "anchor-vessel", "--dry-run"), "has no unit"),
        (("batch", "hand-cream", "--size", "0 kg", "--on", "anchor-vessel", "--dry-run"), "is nothing"),
        ((*DRY[:4], "--on", "bench-balance", "--dry-run"), "is a balance"),
        (("batch", "hand-cream", "--size", "-3 kg", "--on", "anchor-vessel", "--dry-run"), "--size: '-3 kg' is"),
        (("show", "glycerin", "--process"), "an ingredient has none"),
    ],
)
def test_wrong_use_is_one_line_and_status_2(capsys: Capsys, words: tuple[str, ...], line: str) -> None:
    assert line in said(capsys, *words, status=2)


@pytest.mark.parametrize("recipe", sorted(p.stem for p in RECIPES.glob("*.toml") if p.stem != "workspace"))
def test_lanes_fit_in_80_columns(capsys: Capsys, recipe: str) -> None:
    out = said(capsys, "show", recipe, "--process", "--preservation")

    assert max(map(len, out.splitlines())) <= 80
    assert "What each charge lives through" in out
    assert "Low microbiological risk (ISO 29621)" in out


def test_lanes(capsys: Capsys) -> None:
    out = said(capsys, "show", "face-polish", "--process")

    assert "gum-pot                                │ main (Anchor vessel 150 L)" in out
    assert "→ main                                 │ 4 open-silica" in out
    assert "                                       │ ← gum-pot 17.40 kg" in out


def test_process_as_json(capsys: Capsys) -> None:
    found = data(capsys, "show", "show", "face-polish", "--process", "--preservation")
    steps = {step["step"]: step for step in found["process"]["steps"]}

    assert "71.7" == steps["open-silica"]["holds"]["main"]["kg"]
    assert [17.4] == [float(item["kg"]) for item in steps["open-silica"]["joined"]]
    seen = found["process"]["exposures"]["C/silica-polishing"]
    assert ["fold-polish", "finish", "set-pH", "even-out"] == [item["step"] for item in seen]
    assert ["dehydroacetic acid"] == [item["acid"] for item in found["preservation"]["acids"]]
    assert [("benzyl alcohol", True), ("dehydroacetic acid", True)] == [
        (item["system"], item["counts"]) for item in found["preservation"]["systems"]
    ]


def test_many_vessels_are_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    pots = [f"pot-{i}" for i in range(7)]
    rows = "\n".join(f"m-{i} = 10" for i in range(7)) + '\nwater = "to 100"\n'
    steps = "".join(f'[[step]]\nid = "s{i}"\ninto = "{p}"\nadd = ["A/m-{i}"]\n' for i, p in enumerate(pots))
    joined = ", ".join(f'"{p}"' for p in pots)
    (tmp_path / "workspace.toml").write_text('title = "x"\n', "utf-8")
    (tmp_path / "many.toml").write_text(
        f'title = "Many"\n[phase.A.charge]\n{rows}{steps}'
        f'[[step]]\nid = "all"\ninto = "main"\nfrom = [{joined}]\nadd = ["A/water"]\n',
        "utf-8",
    )
    monkeypatch.chdir(tmp_path)
    out = said(capsys, "show", "many", "--process")

    assert "8 all [main]" in out
    assert "(no batch size is stated)" in out
