"""Batch and lot files: read strictly, seen as values, written back so that the same is read."""

from __future__ import annotations

import datetime
import tomllib
from decimal import Decimal
from fractions import Fraction

import pytest

from formula_vcs.model.batch import Batch
from formula_vcs.model.facts import unread
from formula_vcs.model.lot import Lot
from formula_vcs.model.spec_line import SpecLine
from formula_vcs.toml.batch_edit import batch_text, facts_in, fill_in, take_out
from formula_vcs.toml.batch_file import place, read_batch
from formula_vcs.toml.edit import EditRefused
from formula_vcs.toml.record_files import read_lot

TEXT = """\
recipe     = "hand-cream"     # the one with kelp
commit     = "3f2c9d1"
hash       = "{hash}"
size       = "25 kg"
date       = 2026-03-04
equipment  = ["anchor-vessel", "plant-rotor-stator"]
made       = "24.6 kg"
packs      = 326

[phase.A.charge]
glycerin = {{ target = "1.000 kg", weighed = "1.002 kg", lot = "glycerin-8812", balance = "floor-balance" }}
water    = {{ target = "18.6 kg", lots = [{{ lot = "w1", weighed = "10 kg" }}, {{ lot = "w2", weighed = "8.6 kg" }}] }}

[[step]]
id      = "hydrate-gum"
target  = {{ speed = "6000 rpm", time = "8 min", temp = "20 to 25 degC" }}
started = 2026-03-04T09:30:00
speed   = "5900 rpm"
[[step]]
id       = "set-pH"
measured = 5.4
[[step]]
id       = "set-pH"
measured = "5.0"

[result]
pH        = "5.0"
viscosity = "17.8 Pa*s"

[[deviation]]
about = "hydrate-gum"
why = "power cut"
decided_by = "Ada"
""".format(hash="0" * 64)


def batch(text: str = TEXT) -> Batch:
    return Batch("hc-041", facts_in(text))


def refused(text: str) -> dict[str, str]:
    return {"/".join(path): value.message for path, value in unread(facts_in(text))}


def test_a_batch_is_seen_as_what_it_is() -> None:
    found = batch()
    glycerin, water = found.charges

    assert {} == refused(TEXT)
    assert ("anchor-vessel", "plant-rotor-stator") == found.equipment
    assert Fraction("1.002") == glycerin.weighed
    assert ("glycerin-8812",) == glycerin.lots
    assert (Fraction("18.6"), ("w1", "w2")) == (water.weighed, water.lots)
    assert ["hydrate-gum", "set-pH", "set-pH"] == [step.id for step in found.steps]
    assert [1, 1, 2] == [step.again for step in found.steps]
    assert datetime.datetime(2026, 3, 4, 9, 30) == found.steps[0].moment("started")  # noqa: DTZ001 - as the file has it
    assert {"speed", "time", "temp"} == set(found.steps[0].target)
    assert "5900 rpm" == str(found.steps[0].done["speed"])
    assert ("17.8 Pa*s", 326) == (str(found.results["viscosity"]), found.packs)
    assert ("glycerin-8812", "w1", "w2") == found.lots
    assert ("hydrate-gum", "power cut", "Ada") == tuple(vars(found.deviations[0]).values())


@pytest.mark.parametrize(
    ("old", "new", "at", "words"),
    [
        ('"25 kg"', '"25 L"', "size", "a mass is wanted"),
        ('"25 kg"', '"0 kg"', "size", "is nothing"),
        ('"25 kg"', "25", "size", "bare number"),
        ("2026-03-04\n", '"2026-03-04"\n', "date", "a date without quotes"),
        ('"3f2c9d1"', '"main"', "commit", "no commit id"),
        ("326", "326.5", "packs", "whole numbers"),
        ('weighed = "1.002 kg"', 'wieghed = "1.002 kg"', "phase/A/charge/glycerin/wieghed", "did you mean 'weighed'"),
        ('weighed = "8.6 kg"', 'weighed = "8.6"', "phase/A/charge/water/lots/2/weighed", "has no unit"),
        ('"18.6 kg", lots', '"18.6 kg", weighed = "1 kg", lots', "phase/A/charge/water/weighed", "'lots'"),
        ('glycerin = { target = "1.000 kg", weighed = "1.002 kg", lot = "glycerin-8812", balance = "floor-balance" }',
         'glycerin = "1 kg"', "phase/A/charge/glycerin", "write { target"),
        ('speed   = "5900 rpm"', 'speed   = "5900 g"', "step/hydrate-gum/speed", "is a mass"),
        ("2026-03-04T09:30:00", "2026-03-04", "step/hydrate-gum/started", "a date with a time"),
        ('"17.8 Pa*s"', '"thin"', "result/viscosity", "thin"),
        ('pH        = "5.0"', 'smell = "fresh"', "result/smell", "words go into 'note'"),
        ('decided_by = "Ada"', "", "deviation/1/decided_by", "is missing"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_where_it_stands(old: str, new: str, at: str, words: str) -> None:
    assert old in TEXT
    found = refused(TEXT.replace(old, new, 1))

    assert at in found, found
    assert words in found[at]


def test_places_of_rows_and_steps() -> None:
    facts = facts_in(TEXT)

    assert ("step", 2, "measured") == place(facts, ("step", "set-pH 2", "measured"))
    assert ("deviation", 0, "why") == place(facts, ("deviation", "1", "why"))
    at = ("phase", "A", "charge", "water", "lots", "2", "lot")
    assert (*at[:5], 1, "lot") == place(facts, at)


def test_filling_in_changes_one_fact_and_keeps_the_rest() -> None:
    text = fill_in(TEXT, ("phase", "A", "charge", "water", "lots", "2", "weighed"), "8.7 kg")
    text = fill_in(text, ("step", "set-pH 2", "done_by"), "Una")
    text = fill_in(text, ("result", "density"), "0.99 g/mL")
    text = fill_in(text, ("closed",), datetime.date(2026, 3, 6))
    before, after = facts_in(TEXT), facts_in(text)

    assert {
        ("phase", "A", "charge", "water", "lots", "2", "weighed"), ("step", "set-pH 2", "done_by"),
        ("result", "density"), ("closed",),
    } == {path for path in after if after[path] != before.get(path)}  # fmt: skip
    assert "# the one with kelp" in text
    assert TEXT.count("\n") + 3 == text.count("\n")


def test_taking_out_and_what_cannot_be_written() -> None:
    path = ("phase", "A", "charge", "glycerin", "lot")

    assert path not in facts_in(take_out(TEXT, path))
    assert TEXT == take_out(TEXT, ("note",))
    with pytest.raises(EditRefused):
        fill_in(TEXT, ("phase", "A", "charge", "water", "lots", "9"), "x")


def test_what_is_written_is_read_again() -> None:
    header = {"recipe": 'a "b"', "size": "1 kg", "date": datetime.date(2026, 3, 4), "equipment": ["x"], "packs": 3}
    charges = {"A b": {"gly\u00e9": {"target": "1 kg", "lots": [{"step": "s", "target": "1 kg"}]}}}
    steps = [{"id": "s", "target": {"time": "8 min"}}]
    text = batch_text(header, charges, steps, {"pH": SpecLine("pH", "low"), "odour": SpecLine("odour", "faint")})
    data = tomllib.loads(text, parse_float=Decimal)

    assert 'a "b"' == data["recipe"]
    assert {"target": "1 kg", "lots": [{"step": "s", "target": "1 kg"}]} == data["phase"]["A b"]["charge"]["gly\u00e9"]
    assert ("A b/gly\u00e9",) == tuple(charge.key for charge in Batch("", read_batch(data)).charges)


def test_a_lot() -> None:
    facts = read_lot({
        "ingredient": "kelp-gum", "lot": "2291", "received": datetime.date(2026, 2, 11), "status": "released",
        "quantity": "25 kg", "price": "12.40 EUR/kg", "certificate": {"viscosity": "1180 mPa*s", "pH": Decimal("6.1")},
    })  # fmt: skip
    lot = Lot("kelp-gum-2291", facts)

    assert [] == list(unread(facts))
    assert ("kelp-gum", "2291", "released") == (lot.ingredient, lot.number, lot.status)
    assert {"viscosity": "1180 mPa*s", "pH": "6.1"} == {name: str(value) for name, value in lot.certificate.items()}
    assert lot.price is not None
    assert Fraction("12.4") == lot.price.base


def test_a_lot_that_is_wrong() -> None:
    facts = read_lot({"lot": 7, "status": "relased", "expires": "2026", "certificate": {"viscosity": "3"}})
    found = {"/".join(path): value.message for path, value in unread(facts)}

    assert {"lot", "status", "expires", "certificate/viscosity", "ingredient"} == set(found)
    assert "did you mean 'released'" in found["status"]
