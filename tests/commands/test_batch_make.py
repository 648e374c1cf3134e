"""``git formula batch RECIPE``: what is written, what is printed, and what is refused; real git, a small shed."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest

from formula_vcs.cli import main
from formula_vcs.model.batch import Batch
from formula_vcs.toml.batch_edit import facts_in
from formula_vcs.units.unit_reading import read_quantity
from tests.conftest import MINIMAL, GitRepo

Capsys = pytest.CaptureFixture[str]
Make = Callable[..., GitRepo]
SCHEMAS = Path(__file__).resolve().parents[2] / "formula_vcs" / "reports" / "schemas"
CREAM = """\
title   = "Cream"
pack    = "100 g"

[phase.A.charge]
water    = "to 100"
glycerin = 5.00
acid     = { pct = 0.40, for = "pH", at_most = 0.80, second_check = true }

[[step]]
id    = "mix"
into  = "main"
add   = [{ what = "A/water", share = "80 %" }, "A/glycerin"]
shear = "low"
mixer = "pot"
speed = "100 rpm"
temp  = "70 to 75 degC"

[[step]]
id    = "rinse"
into  = "main"
add   = [{ what = "A/water", share = "20 %" }]
shear = "low"

[[step]]
id      = "set-pH"
measure = "pH"
accept  = "4.8 to 5.2"
adjust  = ["A/acid"]

[spec]
pH = "4.8 to 5.2"
"""
FILES = {
    **MINIMAL,
    "cream.toml": CREAM,
    "ingredients/acid.toml": 'title = "Acid 50 %"\nrecipe = "acid"\n\n[handling]\nhazards = ["H319", "H999"]\n',
    "ingredients/citric.toml": (
        'title = "Citric acid"\ndensity = "1.66 g/mL"\n\n[substances]\n"Citric Acid" = 100\n\n'
        '[[price]]\ncost = "3 EUR/kg"\n'
    ),
    "premixes/acid.toml": (
        'title = "Acid"\nproduct = "premix"\n\n[phase.A.charge]\nwater = "to 100"\ncitric = 50\n\n[[step]]\n'
        'id = "stir"\ninto = "jug"\nadd = ["A"]\nshear = "low"\n'
    ),
    "equipment/pot.toml": (
        'title = "Pot"\nkind = "vessel"\nvolume = "50 L"\nimpeller = "200 mm"\nspeed = "10 to 200 rpm"\n'
    ),
    "equipment/drum.toml": (
        'title = "Drum"\nkind = "vessel"\nvolume = "200 L"\nimpeller = "400 mm"\nspeed = "10 to 200 rpm"\n'
    ),
    "equipment/fine.toml": (
        'title = "Fine"\nkind = "balance"\ncapacity = "600 g"\nreadability = "0.01 g"\nrepeatability = "0.005 g"\n'
    ),
    "equipment/floor.toml": 'title = "Floor"\nkind = "balance"\ncapacity = "60 kg"\nreadability = "5 g"\n',
    "lots/g-1.toml": 'ingredient = "glycerin"\nlot = "1"\nstatus = "released"\n',
    "lots/g-2.toml": 'ingredient = "glycerin"\nlot = "2"\nstatus = "rejected"\n',
}


@pytest.fixture
def shed(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> GitRepo:
    """Give a workspace in which everything is committed, and stand in it."""
    repo = git_repo(FILES)
    monkeypatch.chdir(repo.path)
    return repo


def said(capsys: Capsys, *words: str, status: int = 0) -> str:
    capsys.readouterr()
    found = main(words)
    captured = capsys.readouterr()
    assert status == found, captured
    return captured.err + captured.out if status else captured.out


def made(repo: GitRepo, name: str) -> Batch:
    return Batch(name, facts_in((repo.path / "batches" / f"{name}.toml").read_text("utf-8")))


TEN = ("batch", "cream", "--size", "10 kg", "--date", "2026-03-04", "--id", "c-1")


def test_the_file_pins_the_version_and_its_targets_add_up(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, *TEN, "--by", "Una")
    batch = made(shed, "c-1")

    assert shed.git("rev-parse", "HEAD") == batch.commit
    assert ("cream", "Una", "2026-03-04") == (batch.recipe, batch.made_by, str(batch.date))
    assert batch.size is not None
    targets = [charge.target for charge in batch.charges]
    assert batch.size.base == sum(target.base for target in targets if target is not None)
    assert {"A/water": "fine"} != {charge.key: charge.balance for charge in batch.charges}
    assert main(["check"]) == 0


def test_a_charge_in_two_steps_has_two_lines(shed: GitRepo, capsys: Capsys) -> None:
    """94.6 % of 10 kg in 80 and 20 %: 7.57 and 1.89 kg, by 5 g."""
    said(capsys, *TEN)
    water = next(charge for charge in made(shed, "c-1").charges if charge.key == "A/water")

    assert [("mix", "7.570 kg"), ("rinse", "1.890 kg")] == [(row.step, str(row.target)) for row in water.portions]


def test_a_premix_gets_its_own_batch_for_what_adjusting_may_take(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, *TEN)
    acid = next(charge for charge in made(shed, "c-1").charges if charge.key == "A/acid")
    inner = made(shed, "c-1-acid")

    assert ("c-1-acid",) == acid.lots
    assert "acid" == inner.recipe
    assert inner.size is not None
    # 0.4 % are 40 g, but up to 0.8 % may go in
    assert Fraction("0.08") == inner.size.base


def test_a_premix_that_is_too_little_to_weigh_is_made_larger(shed: GitRepo, capsys: Capsys) -> None:
    """0.9 % of 1.2 kg hold 5.4 g of acid, wanted to 0.1 %: the fine balance weighs that from 10 g, so 20 g are made."""
    premix = FILES["premixes/acid.toml"].replace("citric = 50", 'citric = { pct = 50, tolerance = "0.1 %" }')
    less = CREAM.replace("pct = 0.40", "pct = 0.90").replace("at_most = 0.80, ", "")
    shed.commit("less", {"cream.toml": less, "premixes/acid.toml": premix})
    out = said(capsys, "batch", "cream", "--size", "1.2 kg", "--id", "c-2")

    assert "20 g" == str(made(shed, "c-2-acid").size)
    assert "10.8 g of it are needed; 20 g is the least that can be weighed" in " ".join(out.split())


def test_a_made_lot_of_a_premix_is_taken(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, "batch", "acid", "--size", "1 kg", "--date", "2026-03-03", "--id", "acid-7")
    said(capsys, *TEN, "--lot", "acid=acid-7", "--lot", "glycerin=g-1")

    assert {"acid-7", "g-1"} == set(made(shed, "c-1").lots)
    assert not (shed.path / "batches" / "c-1-acid.toml").exists()


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("--lot", "glycerin=g-2"), "lot 'g-2' is rejected"),
        (("--lot", "glycerin=g-9"), "there is no file of lot 'g-9' (lots/)"),
        (("--lot", "water=g-1"), "lot 'g-1' is 'glycerin', another ingredient than 'water'"),
        (("--lot", "glycerin"), "is no INGREDIENT=LOT"),
        (("--lot", "salt=x"), "holds no 'salt'"),
        (("--lot", "acid=g-1"), "its lot is the batch that made it"),
        (("--on", "pott"), "did you mean 'pot'"),
        (("--id", "C 1"), "is no id"),
        (("--date", "tomorrow"), "is no date"),
        (("--packs", "3"), "one of them"),
        (("--made", "3 kg"), "takes no --made"),
        (("--without-claim", "natural at least 95 %"), "does not claim"),
        (("--yield", "97 %", "--size", "10"), "has no unit"),
    ],
)
def test_what_is_asked_wrongly_is_one_line_and_writes_nothing(
    shed: GitRepo, capsys: Capsys, words: tuple[str, ...], line: str
) -> None:
    out = said(capsys, *TEN[:-2], *words, status=2)

    assert line in out
    assert 1 == out.count("git formula:")
    assert not (shed.path / "batches").exists()


def test_a_batch_is_never_written_over(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, *TEN)
    text = (shed.path / "batches" / "c-1.toml").read_text("utf-8")

    assert "never written over" in said(capsys, *TEN, status=2)
    assert text == (shed.path / "batches" / "c-1.toml").read_text("utf-8")


def test_ids_are_counted(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, *TEN[:-2])
    said(capsys, *TEN[:-2])

    assert {"cream-20260304-1", "cream-20260304-2"} <= {p.stem for p in (shed.path / "batches").glob("*.toml")}


def test_what_rests_on_nothing_committed_is_refused_and_other_files_may_be_open(shed: GitRepo, capsys: Capsys) -> None:
    shed.write({"other.toml": CREAM, "ingredients/glycerin.toml": FILES["ingredients/glycerin.toml"] + "# seen\n"})
    said(capsys, *TEN)
    shed.write({"ingredients/glycerin.toml": FILES["ingredients/glycerin.toml"].replace("2.00", "2.10")})
    out = said(capsys, *TEN[:-1], "c-2", status=2)

    assert "not committed: ingredients/glycerin.toml" in out
    said(capsys, *TEN[:-1], "c-2", "--rev", "HEAD")


def test_a_recipe_that_is_not_committed_is_refused(shed: GitRepo, capsys: Capsys) -> None:
    shed.write({"new.toml": CREAM})

    assert "'new' is not in commit" in said(capsys, "batch", "new", "--size", "10 kg", status=2)


def test_a_recipe_that_does_not_pass_is_refused_with_its_findings(shed: GitRepo, capsys: Capsys) -> None:
    shed.commit("wrong", {"cream.toml": CREAM.replace("5.00", "105")})
    out = said(capsys, *TEN, status=1)

    assert "cream.toml:5:12: block [balance-left]" in out
    assert not (shed.path / "batches").exists()


def test_a_refusal_comes_in_the_format_that_was_asked_for(shed: GitRepo, capsys: Capsys) -> None:
    shed.commit("wrong", {"cream.toml": CREAM.replace("5.00", "105")})
    capsys.readouterr()

    assert 1 == main([*TEN, "--dry-run", "--format", "json"])
    data = json.loads(capsys.readouterr().out)
    jsonschema.validate(data, json.loads((SCHEMAS / "check.json").read_text("utf-8")))
    assert ["balance-left"] == [finding["rule"] for finding in data["findings"]]
    assert 1 == main([*TEN, "--format", "html"])
    html = capsys.readouterr().out
    assert "<h1>No batch of cream is made</h1>" in html
    assert "cream.toml:5:12" in html
    assert 1 == main([*TEN, "-o", "sheet.html"])
    assert "block [balance-left]" in capsys.readouterr().out
    assert not (shed.path / "sheet.html").exists()


def test_an_open_amount_makes_no_batch(shed: GitRepo, capsys: Capsys) -> None:
    shed.commit("open", {"cream.toml": CREAM.replace("glycerin = 5.00", 'glycerin = "q.s."')})

    assert "while an amount is open: A/glycerin" in said(capsys, *TEN, status=2)


def test_a_claim_that_needs_facts_makes_no_batch_unless_it_is_given_up(shed: GitRepo, capsys: Capsys) -> None:
    claim = "natural at least 95 %"
    text = CREAM.replace('pack    = "100 g"', f'pack = "100 g"\nclaims = ["{claim}"]')
    shed.commit("claim", {"cream.toml": text})

    assert f"--without-claim '{claim}'" in " ".join(said(capsys, *TEN, status=1).split())
    sheet = " ".join(said(capsys, *TEN, "--without-claim", claim).split())
    assert f"made without the claim '{claim}'" in sheet
    assert (claim,) == made(shed, "c-1").without_claims


def test_too_little_to_weigh_says_what_helps(shed: GitRepo, capsys: Capsys) -> None:
    """0.4 % of 1 kg are 4 g, wanted to 0.1 %: twice 5 mg is 0.1 % of 10 g, and that means 2.5 kg."""
    shed.commit("close", {"cream.toml": CREAM.replace("second_check = true", 'tolerance = "0.1 %"')})
    out = said(capsys, "batch", "cream", "--size", "1 kg", status=2)

    for words in (
        "A/acid: 4 g cannot be weighed",
        "10 g or more",
        "0.1 % of it, the line's tolerance",
        "a finer balance",
    ):
        assert words in out
    assert "a batch of 2.5 kg or more" in out
    assert "of which 1 % or more goes into 'cream'" in out


def test_a_balance_that_is_named_is_the_only_one(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, *TEN, "--on", "floor")

    rows = [row.balance for charge in made(shed, "c-1").charges for row in charge.weighings]
    assert {"floor"} == set(rows)


def test_a_batch_that_is_no_multiple_is_made_the_nearest_and_said(shed: GitRepo, capsys: Capsys) -> None:
    out = " ".join(said(capsys, *TEN[:3], "10.002 kg", *TEN[4:], "--on", "floor").split())

    assert "10.002 kg is no multiple of 5 g, in which it is weighed: made 10 kg, the nearest" in out


def test_a_round_batch_stays_round_where_finer_lines_make_up_for_coarse_ones(shed: GitRepo, capsys: Capsys) -> None:
    """94.6 % of 17.5 kg are 13.244 and 3.311 kg, by 5 g; 875 g and 70 g, by 5 g and 0.01 g, are exact."""
    said(capsys, *TEN[:3], "17.5 kg", *TEN[4:])
    batch = made(shed, "c-1")

    assert "17.5 kg" == str(batch.size)
    masses = [str(row.target or charge.target) for charge in batch.charges for row in charge.weighings]
    assert ["13.245 kg", "3.310 kg", "875 g", "70.00 g"] == masses
    assert batch.get("note") is None


def test_a_batch_that_no_masses_add_up_to_is_the_nearest_one_and_said(shed: GitRepo, capsys: Capsys) -> None:
    """94.1 % of 1.2 kg are 1,129.2 g in two parts by 5 g, nothing fills up, and nothing makes up for what is left."""
    out = " ".join(said(capsys, *TEN[:3], "1.2 kg", *TEN[4:], "--lot", "acid=none", status=2).split())
    assert "there is no batch 'none'" in out
    fixed = CREAM.replace('"to 100"', "94.10").replace("pct = 0.40", "pct = 0.90").replace("at_most = 0.80, ", "")
    shed.commit("nothing fills up", {"cream.toml": fixed})
    out = " ".join(said(capsys, *TEN[:3], "1.2 kg", *TEN[4:]).split())

    assert "no masses in steps of 5 g and 0.01 g, each within a step of its share, add up to 1.2 kg: made " in out
    assert "kg, the nearest" in out


def test_a_batch_is_the_size_that_was_asked_for_and_round_lines_stay_round(shed: GitRepo, capsys: Capsys) -> None:
    """1.2 kg: glycerin 60 g, acid 10.8 g, the rinse 225.84 g; the first water takes the rest, on two balances."""
    shed.commit("more acid", {"cream.toml": CREAM.replace("pct = 0.40", "pct = 0.90").replace("at_most = 0.80, ", "")})
    said(capsys, *TEN[:3], "1.2 kg", *TEN[4:])
    batch = made(shed, "c-1")
    rows = {charge.key: [(str(row.target), row.balance) for row in charge.weighings] for charge in batch.charges}

    assert "1.2 kg" == str(batch.size)
    assert [("60.00 g", "fine")] == rows["A/glycerin"]
    assert [("10.80 g", "fine")] == rows["A/acid"]
    assert [("900 g", "floor"), ("3.36 g", "fine"), ("225.84 g", "fine")] == rows["A/water"]
    assert main(["check"]) == 0


def test_without_a_balance_it_is_said(shed: GitRepo, capsys: Capsys) -> None:
    for name in ("fine", "floor"):
        (shed.path / "equipment" / f"{name}.toml").unlink()
    out = said(capsys, *TEN)

    assert "no balance is described" in " ".join(out.split())


def test_set_points_are_scaled_to_the_equipment(shed: GitRepo, capsys: Capsys) -> None:
    """Tip speed kept from 200 to 400 mm: 100 rpm become 50."""
    said(capsys, *TEN, "--on", "drum", "--by", "Una")
    step = made(shed, "c-1").steps[0]

    assert ("drum", "50 rpm") == (step.target["mixer"], str(step.target["speed"]))
    assert step.scaled == "from 100 rpm on 'pot', keeps tip speed"
    assert ("drum",) == made(shed, "c-1").equipment


def test_a_vessel_that_does_not_hold_the_batch_is_said(shed: GitRepo, capsys: Capsys) -> None:
    out = " ".join(said(capsys, *TEN[:3], "55 kg", *TEN[4:]).split())

    assert "main (Pot) holds 50 L, and the batch takes 54 L" in out


def test_a_filling_machine_says_what_it_has_to_put_over(shed: GitRepo, capsys: Capsys) -> None:
    """100 g, s = 4 g: 1.96 s - 4.5 = 3.34, 3.72 s - 9 = 5.88 g over."""
    shed.write({"equipment/filler.toml": 'title = "Filler"\nkind = "filler"\nrepeatability = "4 g"\n'})
    out = " ".join(said(capsys, *TEN, "--on", "filler").split())

    assert "Filler, which differs by 4 g, has to fill 5.88 % over, to 105.88 g" in out


def test_packs_ask_for_a_size(shed: GitRepo, capsys: Capsys) -> None:
    """100 packs of 100 g, 1 % over, 96 % come out: 10.5208 kg; the batch is the nearest that can be weighed."""
    words = ("--packs", "100", "--overfill", "1 %", "--yield", "96 %", "--id", "c-3")
    out = said(capsys, "batch", "cream", *words)
    batch = made(shed, "c-3")

    assert batch.size is not None
    assert abs(batch.size.base - Fraction("10.520833")) < Fraction("0.01")
    assert "tolerable error 4.5 g (Directive 76/211/EEC" in " ".join(out.split())
    assert 100 == int(batch.get("planned_packs", object))


def test_the_sheet_has_what_a_maker_needs_in_80_columns(shed: GitRepo, capsys: Capsys) -> None:
    out = said(capsys, *TEN)
    flat = " ".join(out.split())

    for words in (
        "H319 Causes serious eye irritation. (Acid 50 %)", "H999 no wording here; see the safety data sheet",
        "tight goggles",
        "part 1 of 2, for mix", "kept for set-pH: add in parts, at most 80 g in all",
        "second person checks the weighing",
        "Acid 50 %: in parts, 40.00 g planned, 80 g at most (A/acid)", "measure pH, accept 4.8 to 5.2: ____________",
        "7.570 kg (80 % of the charge) Water (A/water)", "500.00 g Glycerin (A/glycerin)",
        "temperature 70 to 75 degC", "scalds", "licensed for it",
        "495.00 to 505.00 g (± 5.00 g)", "pH: ____________ (spec 4.8 to 5.2)",
    ):  # fmt: skip
        assert words in flat, words
    assert max(map(len, out.splitlines())) <= 80


def test_json_follows_its_schema(shed: GitRepo, capsys: Capsys) -> None:
    found = json.loads(said(capsys, *TEN, "--format", "json"))
    jsonschema.validate(found, json.loads((SCHEMAS / "weigh-sheet.json").read_text("utf-8")))
    premix, product = found["sheets"]

    assert ("c-1", "c-1-acid", "10") == (product["batch"], premix["batch"], product["size_kg"])
    targets = [read_quantity(line["target"], "mass").base for line in product["lines"]]
    assert Fraction(product["size_kg"]) == sum(targets)


def test_the_sheet_of_a_batch_that_is_there(shed: GitRepo, capsys: Capsys) -> None:
    first = said(capsys, *TEN)
    shed.commit("later", {"cream.toml": CREAM.replace("5.00", "6.00")})

    assert first == said(capsys, "batch", "sheet", "c-1")
    assert first == said(capsys, "batch", "sheet", "batches/c-1.toml")
    assert "did you mean 'c-1'" in said(capsys, "batch", "sheet", "c-11", status=2)


def test_a_dry_run_writes_nothing(shed: GitRepo, capsys: Capsys) -> None:
    out = said(capsys, *TEN, "--dry-run")
    assert "Weigh sheet" not in out
    assert 2 == out.count("nothing may be made by this")
    assert not (shed.path / "batches").exists()


def test_a_dry_run_takes_no_id_that_a_batch_gets(shed: GitRepo, capsys: Capsys) -> None:
    """Two papers of one id, of 25 kg and of 10 kg, would lie on one bench."""
    dry = json.loads(said(capsys, *TEN[:-2], "--dry-run", "--format", "json"))
    real = json.loads(said(capsys, *TEN[:-2], "--format", "json"))

    assert (True, False) == (dry["sheets"][-1]["dry_run"], real["sheets"][-1]["dry_run"])
    assert set() == {sheet["batch"] for sheet in dry["sheets"]} & {sheet["batch"] for sheet in real["sheets"]}


def test_words_of_command_and_recipes_do_not_meet(shed: GitRepo, capsys: Capsys) -> None:
    shed.commit("a recipe called record", {"record.toml": CREAM})

    assert "wants the id or the file of a batch" in said(capsys, "batch", "record", status=2)
    said(capsys, "batch", "recipe:record", "--size", "10 kg", "--id", "r-1")
    assert "too many words" in said(capsys, "batch", "a", "b", status=2)


def test_outside_a_repository_nothing_can_be_pinned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys
) -> None:
    for name, text in FILES.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)

    assert "is in no git repository" in said(capsys, *TEN, status=2)


def test_the_page_is_harmless_and_whole(shed: GitRepo, capsys: Capsys) -> None:
    evil = "<script>alert(1)</script>\\u202e"
    shed.commit("evil", {"ingredients/glycerin.toml": FILES["ingredients/glycerin.toml"].replace("Glycerin", evil, 1)})
    said(capsys, *TEN, "-o", "sheet.html")
    page = (shed.path / "sheet.html").read_text("utf-8")

    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "\u202e" not in page
    assert 2 == len(re.findall(r"<section class=\"sheet p\d\" ", page))
    for step in ("mix", "rinse", "set-pH"):
        assert step in page


def test_the_pdf_is_made_of_the_same_page(shed: GitRepo, capsys: Capsys) -> None:
    pytest.importorskip("weasyprint")
    said(capsys, *TEN, "-o", "sheet.pdf")

    data = (shed.path / "sheet.pdf").read_bytes()
    assert data.startswith(b"%PDF-")
    assert len(data) > 5000


def test_without_the_library_a_pdf_says_what_to_install(shed: GitRepo) -> None:
    """A Python that cannot find WeasyPrint: nothing is written, no batch either."""
    script = (
        "import sys; sys.modules['weasyprint'] = None; from formula_vcs.cli import main;"
        "sys.exit(main(['batch', 'cream', '--size', '10 kg', '--id', 'c-1', '--format', 'pdf', '-o', 'x.pdf']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=shed.path, capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(SCHEMAS.parents[2]), "PATH": "/usr/bin:/bin"},
    )  # fmt: skip

    assert 2 == done.returncode, done.stderr
    assert "formula-vcs[pdf]" in done.stderr
    assert not (shed.path / "batches").exists()


def test_a_linked_folder_is_not_written_through(shed: GitRepo, capsys: Capsys, tmp_path: Path) -> None:
    (tmp_path / "away").mkdir()
    (shed.path / "batches").symlink_to(tmp_path / "away")

    assert "is a link" in said(capsys, *TEN, status=2)
    assert [] == list((tmp_path / "away").iterdir())


def test_a_batch_is_named_by_id_or_by_any_path(
    shed: GitRepo, capsys: Capsys, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    said(capsys, *TEN)
    sheet = said(capsys, "batch", "sheet", "c-1")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    whole = str(shed.path / "batches" / "c-1.toml")
    for folder, words in (
        (shed.path, ("batches/c-1.toml", "./batches/c-1.toml", "c-1.toml", whole)),
        (shed.path / "batches", ("c-1.toml", "batches/c-1.toml", "c-1")),
        (shed.path / "lots", ("../batches/c-1.toml", "c-1")),
        (elsewhere, (whole, os.path.relpath(whole, elsewhere))),
    ):
        monkeypatch.chdir(folder)
        for word in words:
            assert sheet == said(capsys, "batch", "sheet", word), (folder, word)
    monkeypatch.chdir(shed.path)
    assert "is no batch; those lie in batches/" in said(capsys, "batch", "sheet", "cream.toml", status=2)
    assert "did you mean 'c-1'?" in said(capsys, "batch", "sheet", "batches/c-11.toml", status=2)


@pytest.mark.parametrize("packs", [97, 123, 250, 333])
def test_a_batch_for_packs_is_enough_for_them(shed: GitRepo, capsys: Capsys, packs: int) -> None:
    """Packs of 100 g, 0.7 % over, of 96.5 % of the batch: what is rounded down would fill one pack less."""
    words = ("batch", "cream", "--packs", str(packs), "--overfill", "0.7 %", "--yield", "96.5 %", "--id", "c-9")
    out = said(capsys, *words, "--without-claim", "x", status=2)
    assert "does not claim" in out
    sheet = said(capsys, *words)
    size = made(shed, "c-9").size

    assert size is not None
    needed = packs * Fraction("0.1007") / Fraction("0.965")
    assert needed <= size.base < needed * Fraction("1.01")
    assert f"{packs} packs of 100 g" in sheet


def test_two_that_make_a_batch_at_once_get_two_ids(shed: GitRepo) -> None:
    """The id that was free when it was chosen is chosen again where another took it, premixes and all."""
    asked = ["batch", "cream", "--size", "10 kg", "--date", "2026-03-04", "--on", "floor"]
    makers = [
        subprocess.Popen([sys.executable, "-m", "formula_vcs", *asked], cwd=shed.path, stdout=subprocess.DEVNULL,
                         stderr=subprocess.PIPE, text=True)
        for _ in range(4)
    ]  # fmt: skip
    said = [maker.communicate(timeout=120)[1] for maker in makers]

    assert [0] * 4 == [maker.returncode for maker in makers], said
    names = sorted(file.stem for file in (shed.path / "batches").glob("*.toml"))
    made = [f"cream-20260304-{number}" for number in range(1, 5)]
    assert sorted([*made, *(f"{name}-acid" for name in made)]) == names
    assert main(["check"]) == 0


@pytest.mark.parametrize("size", ["1e9 kg", "1e12 kg"])
def test_a_batch_of_more_loads_than_can_be_meant_is_refused(shed: GitRepo, capsys: Capsys, size: str) -> None:
    """The largest balance holds 60 kg: the loads are counted, not laid out."""
    found = " ".join(said(capsys, "batch", "cream", "--size", size, "--dry-run", status=2).split())

    assert "more than 50 loads of the largest balance" in found
