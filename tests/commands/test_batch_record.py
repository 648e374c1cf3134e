"""``batch record`` and ``batch cost``: filling in by table, by option and by answer, closing, and what it cost."""

from __future__ import annotations

import datetime
import io
import json
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest

from formula_vcs.batches.open_record import OpenRecord, open_record
from formula_vcs.cli import main
from formula_vcs.commands import workspace_args
from formula_vcs.commands.batch_sheet import find
from formula_vcs.errors import UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.toml.batch_edit import facts_in
from formula_vcs.workspace.snapshot import Snapshot, WorkTree
from tests.conftest import MINIMAL, GitRepo

Capsys = pytest.CaptureFixture[str]
SCHEMAS = Path(__file__).resolve().parents[2] / "formula_vcs" / "reports" / "schemas"
CREAM = MINIMAL["cream.toml"] + 'time  = "8 min"\n\n[spec]\ndensity = "0.98 to 1.05 g/mL"\n'
FILES = {
    **MINIMAL,
    "cream.toml": CREAM,
    "lots/w-1.toml": 'ingredient = "water"\nlot = "1"\nstatus = "released"\nprice = "0.02 EUR/kg"\n',
    "lots/w-2.toml": 'ingredient = "water"\nlot = "2"\nstatus = "released"\nprice = "0.04 EUR/kg"\n',
    "lots/g-1.toml": 'ingredient = "glycerin"\nlot = "7"\nstatus = "released"\nprice = "2.50 EUR/kg"\n',
}
GOOD = b"material,net (g),lot\nwater,9500,w-1\nglycerin,501,g-1\n"


@pytest.fixture
def shed(git_repo: Callable[..., GitRepo], monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> GitRepo:
    """Give a workspace with one open batch of 10 kg, and stand in it."""
    repo = git_repo(FILES)
    monkeypatch.chdir(repo.path)
    assert main(["batch", "cream", "--size", "10 kg", "--date", "2026-03-04", "--id", "c-1"]) == 0
    capsys.readouterr()
    return repo


def said(capsys: Capsys, *words: str, status: int = 0) -> str:
    capsys.readouterr()
    found = main(words)
    captured = capsys.readouterr()
    assert status == found, captured
    return " ".join((captured.err + captured.out).split())


def text(repo: GitRepo) -> str:
    return (repo.path / "batches" / "c-1.toml").read_text("utf-8")


def batch(repo: GitRepo) -> Batch:
    return Batch("c-1", facts_in(text(repo)))


def table(repo: GitRepo, data: bytes, name: str = "w.csv") -> str:
    (repo.path / name).write_bytes(data)
    return name


RECORD = ("batch", "record", "c-1")


def test_weighings_of_a_scale_are_taken(shed: GitRepo, capsys: Capsys) -> None:
    out = said(capsys, *RECORD, "--weighings", table(shed, GOOD))

    assert "2 weighings taken from w.csv" in out
    assert {"A/water": Fraction("9.5"), "A/glycerin": Fraction("0.501")} == {
        c.key: c.weighed for c in batch(shed).charges
    }
    assert ("w-1", "g-1") == batch(shed).lots


def test_the_same_table_again_changes_nothing(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, *RECORD, "--weighings", table(shed, GOOD))
    before = text(shed)
    said(capsys, *RECORD, "--weighings", "w.csv")

    assert before == text(shed)


def test_lots_of_one_charge_become_portions(shed: GitRepo, capsys: Capsys) -> None:
    data = b"item;weight;unit;lot\nwater;5;kg;w-1\nwater;4,5;kg;w-2\n"
    said(capsys, *RECORD, "--weighings", table(shed, data))
    water = next(charge for charge in batch(shed).charges if charge.key == "A/water")

    assert [("w-1", "5 kg"), ("w-2", "4.5 kg")] == [(row.lot, str(row.weighed)) for row in water.portions]


def test_draws_of_one_lot_that_meet_the_target_together_are_parts(shed: GitRepo, capsys: Capsys) -> None:
    data = b"item;net (g);lot\nwater;4750;w-1\nwater;4.749,5;w-1\n"
    said(capsys, *RECORD, "--weighings", table(shed, data))
    water = next(charge for charge in batch(shed).charges if charge.key == "A/water")

    assert [("w-1", "4750 g"), ("w-1", "4749.5 g")] == [(row.lot, str(row.weighed)) for row in water.portions]
    assert Fraction("9.4995") == water.weighed
    before = text(shed)
    said(capsys, *RECORD, "--weighings", table(shed, data))
    assert before == text(shed)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"material,net (g)\nwater,9500\nsalt,5\n", ":3: 'salt' is no charge of this batch"),
        (b"material,net (kg)\nwater,9500\n", "about 1,000 times its target"),
        (b"material,net (g)\nwater,9500\nwater,100\n", "from no other lot"),
        (b"material,net (g),lot\nwater,9500,w-1\nwater,9501,w-1\n", "was it weighed again, or in parts?"),
        (b"material,net (g),lot\nwater,4000,w-1\nwater,4000,w-1 \nwater,4100,w-1\n", "repeats line 2"),
        (b"material,lot,net (kg)\nwater,w-1,9.500\nglycerin,g-1,0.4", ":3: ends in a number shorter than the others"),
        (b"material,net (g)\nwater,9500\nwater,9500\n", "repeats line 2 word for word"),
        (b"material,net (g)\nwater,9500\nglycerin", "is the file cut off"),
        (b"material,net (g)\nwater,0\n", "nothing was weighed"),
        (b"material,net\nwater,9500\n", "has no unit"),
    ],
)
def test_a_table_with_a_problem_writes_nothing(shed: GitRepo, capsys: Capsys, data: bytes, words: str) -> None:
    before = text(shed)
    out = said(capsys, *RECORD, "--weighings", table(shed, data), status=2)

    assert words in out
    assert "nothing was written" in out
    assert before == text(shed)


def test_a_part_is_written_where_it_is_asked_for(shed: GitRepo, capsys: Capsys) -> None:
    data = b"material,net (g)\nwater,9500\nsalt,5\nglycerin,x\n"
    said(capsys, *RECORD, "--weighings", table(shed, data), "--partial", status=1)

    assert [Fraction("9.5"), None] == [charge.weighed for charge in batch(shed).charges]


def test_a_charge_of_which_one_row_is_spoiled_is_left_open(shed: GitRepo, capsys: Capsys) -> None:
    data = b"material,net (kg),lot\nwater,5,w-1\nwater,?,w-2\n"
    said(capsys, *RECORD, "--weighings", table(shed, data), "--partial", status=1)

    assert [None, None] == [charge.weighed for charge in batch(shed).charges]


def test_what_is_filled_in_is_replaced_only_on_request(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, *RECORD, "--weighings", table(shed, GOOD), "--result", "Density=1.01 g/mL")
    other = table(shed, b"material,net (g)\nwater,9490\n", "x.csv")

    assert "weighed already, 9500 g" in said(capsys, *RECORD, "--weighings", other, status=2)
    assert "filled in already" in said(capsys, *RECORD, "--result", "density=1.02 g/mL", status=2)
    said(capsys, *RECORD, "--weighings", other, "--result", "density=1.02 g/mL", "--replace")
    assert "9490 g" in text(shed)
    assert "1.02 g/mL" == str(batch(shed).results["density"])


def test_results_are_read_as_the_file_wants_them(shed: GitRepo, capsys: Capsys) -> None:
    before = text(shed)

    assert "is no measurement" in said(capsys, *RECORD, "--result", "smell=fresh", status=2)
    assert "a result is one value" in said(capsys, *RECORD, "--result", "density=0.9 to 1 g/mL", status=2)
    assert "a density is wanted" in said(capsys, *RECORD, "--result", "density=5 kg", status=2)
    assert "is no NAME=VALUE" in said(capsys, *RECORD, "--result", "density", status=2)
    assert "is no number of packs" in said(capsys, *RECORD, "--packs", "many", status=2)
    assert "a mass is wanted" in said(capsys, *RECORD, "--made", "9 L", status=2)
    assert before == text(shed)


def test_a_record_that_lacks_something_stays_open(shed: GitRepo, capsys: Capsys) -> None:
    out = said(capsys, *RECORD, "--weighings", table(shed, GOOD), "--close", "--date", "2026-03-05", status=1)

    assert "stays open" in out
    assert "what came out of the batch ('made') is not recorded" in out
    assert batch(shed).closed is None
    assert batch(shed).charges[0].weighed is not None


def done(shed: GitRepo, capsys: Capsys) -> None:
    """Fill everything in and close."""
    words = ("--result", "density=1.01 g/mL", "--made", "9.8 kg", "--by", "Una")
    said(capsys, *RECORD, "--weighings", table(shed, GOOD), *words)
    file = shed.path / "batches" / "c-1.toml"
    file.write_text(
        text(shed).replace('[[step]]\nid     = "mix"', '[[step]]\nid     = "mix"\ntime   = "8 min"'), "utf-8"
    )
    said(capsys, *RECORD, "--close", "--date", "2026-03-05")


def test_a_whole_record_is_closed_and_not_edited_any_more(shed: GitRepo, capsys: Capsys) -> None:
    done(shed, capsys)

    assert "2026-03-05" == str(batch(shed).closed)
    assert main(["check"]) == 0
    assert "is closed since 2026-03-05" in said(capsys, *RECORD, "--made", "9 kg", status=2)
    commit = shed.commit("close")
    shed.write({"batches/c-1.toml": text(shed).replace("9.8 kg", "9.7 kg")})
    edit = shed.commit("put it right")
    found = said(capsys, "check", status=1)
    assert edit[:12] in found
    assert commit[:12] not in found


def test_a_closed_record_that_is_taken_away_is_missed(shed: GitRepo, capsys: Capsys) -> None:
    said(capsys, "batch", "cream", "--size", "10 kg", "--id", "c-2")
    done(shed, capsys)
    shed.commit("close")
    (shed.path / "batches" / "c-1.toml").unlink()
    assert "c-1.toml:1:1: block [batch-edited]" in said(capsys, "check", status=1)
    gone = shed.commit("tidy up")

    assert f"taken away since: commit {gone[:12]}" in said(capsys, "check", status=1)


def answers(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_answers_are_written_one_by_one_and_the_rest_is_asked_later(
    shed: GitRepo, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers(monkeypatch, "Una", "w-1", "9.5 g", "9.5 kg", "q")
    out = said(capsys, *RECORD)
    assert "about a thousandth of its target" in out
    assert ("Una", Fraction("9.5"), None) == (
        batch(shed).made_by, batch(shed).charges[0].weighed, batch(shed).charges[1].weighed
    )  # fmt: skip

    answers(monkeypatch, "g-1", "=", "501 g", "9:30", "half past", "09.38", "=", "=", "Una", "1.01 g/mL", "9.8 kg")
    out = said(capsys, *RECORD)
    assert "A/water" not in out.partition("wrote")[0]
    step = batch(shed).steps[0]
    assert ("2026-03-04 09:30:00", "2026-03-04 09:38:00") == (str(step.moment("started")), str(step.moment("ended")))
    assert {"shear", "time"} == set(step.done)
    assert ("1.01 g/mL", "9.8 kg") == (str(batch(shed).results["density"]), str(batch(shed).made))


def test_the_end_of_the_input_leaves_the_rest_open(
    shed: GitRepo, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers(monkeypatch, "Una")
    said(capsys, *RECORD)

    assert "Una" == batch(shed).made_by
    assert batch(shed).charges[0].weighed is None


def test_a_carriage_return_stays(shed: GitRepo, capsys: Capsys) -> None:
    file = shed.path / "batches" / "c-1.toml"
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    said(capsys, *RECORD, "--made", "9.8 kg")

    assert b"\r\n" in file.read_bytes()
    assert "9.8 kg" == str(batch(shed).made)


def test_the_cost_of_a_batch_by_hand(shed: GitRepo, capsys: Capsys) -> None:
    """Standard: 9.5 x 0.01 + 0.5 x 2.00 = 1.095 for 10 kg. Paid: 9.5 x 0.02 + 0.501 x 2.50 = 1.4425 for 9.8 kg."""
    done(shed, capsys)
    found = json.loads(said(capsys, "batch", "cost", "c-1", "--format", "json"))
    jsonschema.validate(found, json.loads((SCHEMAS / "batch-cost.json").read_text("utf-8")))

    assert Fraction("0.1095") == Fraction(found["standard_per_kg"])
    assert Fraction("1.4425") / Fraction("9.8") == Fraction(found["actual_per_kg"])
    effects = {name: Fraction(value) for name, value in found["effects"].items()}
    assert Fraction(found["difference"]) == sum(effects.values())
    # water was weighed to the gram: all of the quantity is one gram of glycerin, at the mean of prices and yields
    glycerin = next(one for one in found["charges"] if one["charge"] == "A/glycerin")
    assert Fraction(glycerin["quantity"]) == effects["quantity"]
    assert Fraction("0.002") < effects["quantity"] < Fraction("0.0025")
    assert effects["yield"] > 0


def test_the_cost_as_text_adds_up_as_printed(shed: GitRepo, capsys: Capsys) -> None:
    done(shed, capsys)
    capsys.readouterr()
    assert main(["batch", "cost", "c-1"]) == 0
    out = capsys.readouterr().out
    rows = [line.split() for line in out.splitlines() if line.split()[:1] in (["standard"], ["actual"])]
    parts = [line.split() for line in out.splitlines() if line.split()[:1] in (["quantity"], ["price"], ["yield"])]
    parts = [row for row in parts if len(row) == 3 and row[1][0] in "+-"]

    assert 3 == len(parts)
    for column in (1, 2):
        assert Fraction(rows[0][column]) + sum(Fraction(row[column]) for row in parts) == Fraction(rows[1][column])
    assert max(map(len, out.splitlines())) <= 80


def test_a_cost_that_lacks_something_says_what(shed: GitRepo, capsys: Capsys) -> None:
    out = said(capsys, "batch", "cost", "c-1")

    assert "A/water: not weighed" in out
    assert "does not say what came out" in out


def test_a_lot_without_a_price_is_taken_at_standard_and_said(shed: GitRepo, capsys: Capsys) -> None:
    shed.write({"lots/g-1.toml": FILES["lots/g-1.toml"].replace('price = "2.50 EUR/kg"\n', "")})
    done(shed, capsys)
    found = json.loads(said(capsys, "batch", "cost", "c-1", "--format", "json"))

    assert "standard (lot 'g-1' states no price)" in [one["price_of"] for one in found["charges"]]


# --- two at once


def test_pairs_of_writers_lose_nothing(shed: GitRepo) -> None:
    """Two that record at the same moment both have what they recorded in the file."""
    for number in range(5):
        writers = [
            subprocess.Popen(
                [sys.executable, "-m", "formula_vcs", *RECORD, "--result", f"{name}-{number}=5.{number:02d}"],
                cwd=shed.path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            )
            for name in ("one", "other")
        ]  # fmt: skip
        for writer in writers:
            out, err = writer.communicate(timeout=60)
            assert writer.returncode in (0, 1), out + err
    expected = {f"{name}-{number}": f"5.{number:02d}" for name in ("one", "other") for number in range(5)}
    facts = facts_in(text(shed))

    assert {path[1]: str(value) for path, value in facts.items() if path[0] == "result"} == expected


def test_an_answer_keeps_what_was_recorded_meanwhile(shed: GitRepo, monkeypatch: pytest.MonkeyPatch) -> None:
    """While one is asked another records; the next answer takes nothing of that away."""

    class Answers(io.StringIO):
        def readline(self, *_: object) -> str:  # type: ignore[override]
            if self.tell() == 0:
                run = [sys.executable, "-m", "formula_vcs", *RECORD, "--made", "9.8 kg", "--packs", "90"]
                subprocess.run(run, cwd=shed.path, check=False, capture_output=True)
            return super().readline()

    monkeypatch.setattr("sys.stdin", Answers("Ina\nq\n"))
    main(list(RECORD))
    found = batch(shed)

    assert ("Ina", "9.8 kg", 90) == (found.made_by, str(found.made), found.packs)


def test_two_answers_to_one_question_are_both_named(shed: GitRepo) -> None:
    """What contradicts what was recorded meanwhile is refused with both values."""
    opened: list[OpenRecord] = []
    with Snapshot(WorkTree(shed.path)) as here, PinnedVersions(None, "") as pins:
        place = workspace_args.place(None)
        opened += [
            open_record(place.root, here, find(here, place, "c-1"), pins, datetime.date(2026, 3, 4)) for _ in range(2)
        ]
        opened[0].put(("result", "pH"), "5.0")
        opened[0].save()
        opened[1].put(("result", "pH"), "5.2")
        with pytest.raises(UserError, match=r"result pH became 5\.0 and 5\.2 \(theirs"):
            opened[1].save()

    assert "5.0" in text(shed)
    assert "5.2" not in text(shed)


def test_a_batch_that_was_closed_meanwhile_stays_as_it_was_closed(shed: GitRepo) -> None:
    with Snapshot(WorkTree(shed.path)) as here, PinnedVersions(None, "") as pins:
        place = workspace_args.place(None)
        opened = open_record(place.root, here, find(here, place, "c-1"), pins, datetime.date(2026, 3, 4))
        closed = f"closed = 2026-03-05\n{text(shed)}"
        (shed.path / "batches" / "c-1.toml").write_text(closed, "utf-8")
        opened.put(("result", "pH"), "5.0")
        with pytest.raises(UserError, match="was closed meanwhile"):
            opened.save()

    assert text(shed) == closed
