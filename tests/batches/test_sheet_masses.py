"""Masses of a weigh sheet: units, windows, and what each step takes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from formula_vcs.batches.sheet_masses import in_unit, step_charges, units, window, without_a_step
from formula_vcs.batches.weigh_sheet import SheetStep, WeighSheet, in_order, sheet_of
from formula_vcs.model.batch import Batch
from formula_vcs.toml.batch_edit import facts_in
from formula_vcs.units.unit_reading import read_quantity
from tests.helpers_demo import demo

HAND = """\
recipe = "hand-cream"
size = "25 kg"
made_by = "Jonah Merrick"

[phase.A.charge]
water             = { target = "15.475 kg", weighed = "15.700 kg", balance = "floor" }
glycerin          = { target = "1.2500 kg", balance = "bench" }
kelp-gel-4        = { target = "1.5000 kg", balance = "bench", lot = "hc-1-gel" }
xanthan-gum       = { target = "75.00 g", balance = "fine" }
sodium-benzoate   = { target = "500.0 g", balance = "bench" }
potassium-sorbate = { target = "62.50 g", balance = "fine" }
sodium-phytate-50 = { target = "50.00 g", balance = "fine" }

[phase.C.charge]
hedgerow-oils  = { target = "500.00 g", balance = "fine" }
corn-starch    = { target = "375.00 g", balance = "fine" }
lavender-oil   = { target = "37.50 g", balance = "fine" }
citric-acid-50 = { target = "75.00 g", balance = "fine" }

[[step]]
id = "heat-water"
target = { temp = "74 to 78 degC", time = "35 min", shear = "low" }
temp = "81 degC"
time = "36 min"
shear = "high"

[[step]]
id = "add-finish"

[[step]]
id = "set-pH"
measured = "5.9"

[result]
pH = "5.0"
viscosity = "15.8 Pa*s"
density = "1.20 g/mL"
"""


def batch(text: str = HAND, name: str = "hc-1") -> Batch:
    return Batch(name, facts_in(text))


def sheet(text: str = HAND, name: str = "hc-1", recipe: str = "hand-cream") -> WeighSheet:
    return sheet_of(batch(text, name), demo(recipe), lambda _: None)


def step(name: str) -> SheetStep:
    return next(found for found in sheet().steps if found.id == name)


def test_a_phase_that_is_added_brings_its_charges_by_name_without_what_is_kept_for_adjusting() -> None:
    """Citric acid stands in phase C and is kept for set-pH: whoever adds "phase C" as written pours the acid in."""
    assert [
        ("Hedgerow oil blend", "500.00 g"), ("Maize starch, native", "375.00 g"), ("Lavender oil, highland", "37.50 g"),
    ] == [(one.title, one.mass) for one in step("add-finish").adds]  # fmt: skip
    assert ("Citric acid solution 50 %", "75.00 g", "150 g") == (
        step("set-pH").adjusts[0].title, step("set-pH").adjusts[0].mass, step("set-pH").adjusts[0].most,
    )  # fmt: skip


def test_a_phase_that_is_added_leaves_out_what_earlier_steps_took_by_name() -> None:
    keys = [one.key for one in step("heat-water").adds]

    assert ["A/kelp-gel-4", "A/sodium-benzoate", "A/potassium-sorbate", "A/sodium-phytate-50"] == keys


def test_every_charge_goes_in_once_or_is_kept() -> None:
    """What all steps take and keep is the recipe: nothing twice, nothing forgotten."""
    formula = demo("hand-cream")
    taken = step_charges(batch(), formula)
    keys = [one.key for charges in taken.values() for one in charges]

    assert sorted(charge.key for charge in formula.recipe.charges if charge.ingredient != "citric-acid-50") == sorted(
        keys
    )
    assert [] == list(without_a_step(batch(), taken, formula))


def test_a_balance_has_one_unit() -> None:
    """The bench balance weighs 1.25 kg and 500 g: both in kg."""
    assert {"floor": "kg", "bench": "kg", "fine": "g"} == units(batch().charges)
    benzoate = next(line for line in sheet().lines if line.ingredient == "sodium-benzoate")
    assert "0.5000 kg" == benzoate.target


@pytest.mark.parametrize(
    ("mass", "unit", "text"),
    [("1.2500 kg", "g", "1250.0 g"), ("500.00 g", "kg", "0.50000 kg"), ("2 lb", "kg", "2 lb"), ("75 g", "g", "75 g")],
)
def test_a_unit_is_turned_with_the_digits_that_stand_there(mass: str, unit: str, text: str) -> None:
    assert text == in_unit(read_quantity(mass), unit)


@pytest.mark.parametrize(
    ("text", "target", "off", "expected"),
    [
        ("15.475 kg", "15.475", "0.150", "15.325 to 15.625 kg"),
        ("75.00 g", "0.075", "0.00075", "74.25 to 75.75 g"),
        # 1/3 g to each side, rounded inwards
        ("10.0 g", "0.010", "1/3000", "9.7 to 10.3 g"),
        # less than the last digit: more digits, no empty window
        ("5 kg", "5", "0.05", "4.95 to 5.05 kg"),
        ("5 kg", "5", "1", "4 to 6 kg"),
        ("2 lb", "0.907", "0.01", ""),
    ],
)
def test_the_window_is_the_target_and_its_tolerance(text: str, target: str, off: str, expected: str) -> None:
    assert expected == window(text, Fraction(target), Fraction(off))


def test_what_was_weighed_outside_is_marked() -> None:
    """1 % of 15.475 kg are 154.75 g; 225 g over is outside."""
    water = next(line for line in sheet().lines if line.ingredient == "water")

    assert ("225 g over its target", "Jonah Merrick") == (water.off, water.by)


def test_what_was_done_otherwise_is_marked() -> None:
    points = {point.name: point.off for point in step("heat-water").points}

    assert {"shear": "high in place of low (more shear)", "time": "", "temp": "81 degC is over 74 to 78 degC"} == {
        name: points[name] for name in ("shear", "time", "temp")
    }
    measure = step("set-pH").measure
    assert measure is not None
    assert "5.9 is over 4.8 to 5.2" == measure.off


def test_results_are_held_against_the_spec() -> None:
    assert {"pH": "", "viscosity": "below", "density": "above"} == {one.name: one.off for one in sheet().results}


def test_another_grade_of_the_same_name_is_pointed_at() -> None:
    text = 'recipe = "face-polish"\n[phase.A.charge]\nsilica-thickening = { target = "450 g" }\n'
    text += 'water = { target = "5 kg" }\n'
    text += '[phase.B.charge]\nsilica-polishing = { target = "900 g" }\n'
    found = {line.ingredient: line.others for line in sheet(text, "fp-1", "face-polish").lines}

    assert found["silica-thickening"][0].endswith("(silica-polishing)")
    assert found["silica-polishing"][0].endswith("(silica-thickening)")
    assert () == found["water"]


def test_premixes_come_before_what_takes_them() -> None:
    gel = 'recipe = "kelp-gel-4"\n[phase.C.charge]\ncitric-acid-50 = { target = "4.5 g", lot = "hc-1-acid" }\n'
    acid = 'recipe = "citric-acid-50"\n[phase.A.charge]\nwater = { target = "80 g" }\n'
    given = [sheet(), sheet(acid, "hc-1-acid", "citric-acid-50"), sheet(gel, "hc-1-gel", "kelp-gel-4")]

    assert ["hc-1-acid", "hc-1-gel", "hc-1"] == [one.batch.id for one in in_order(given)]


def test_batches_that_name_each_other_as_lots_still_come_once_each() -> None:
    one = 'recipe = "kelp-gel-4"\n[phase.A.charge]\nwater = { target = "1 kg", lot = "b" }\n'
    found = in_order([sheet(one, "a", "kelp-gel-4"), sheet(one.replace('"b"', '"a"'), "b", "kelp-gel-4")])

    assert ["a", "b"] == sorted(sheet.batch.id for sheet in found)


def test_words_of_a_spec_are_judged_and_a_value_is_no_answer_to_them() -> None:
    """The spec of this case is made here: no recipe of the demo has words in its spec."""
    formula = demo("hand-cream")
    facts = {**formula.recipe.facts, ("spec", "odour"): "of lavender", ("spec", "colour"): "ivory"}
    odd = replace(formula, recipe=replace(formula.recipe, facts=facts))
    record = batch(HAND.replace("[result]\n", '[result]\nodour = false\ncolour = "5"\n'))
    found = {one.name: (one.spec, one.value, one.off) for one in sheet_of(record, odd, lambda _: None).results}

    assert ("of lavender", "does not conform", "outside") == found["odour"]
    assert ("ivory", "5", "is no answer to the spec") == found["colour"]
