"""The walk as state: kg after each step, warmth, what each charge lives through, and the numbers of steps."""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.figures.process_run import process
from formula_vcs.figures.vessels import mass_of
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.recipe import Recipe, Step
from formula_vcs.process.step_numbers import numbers, said
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.helpers_demo import sums


def test_masses_after_every_step() -> None:
    found = process(sums("shower-wash"))
    holds = {row.stage.step.id: row.holds for row in found.rows}

    # 3 % of glycerin and 0.7 % of gum for 100 kg; 96 % of the water, then all of the rest
    assert Fraction(37, 10) == holds["wet-gum"]["gum-pot"]
    assert Fraction(100) == holds["salt"]["main"]
    assert {"main"} == set(holds["clear"])
    salt = next(row for row in found.rows if row.stage.step.id == "salt")
    water = Fraction("56.7")  # 100 less the 43.3 of everything else
    assert dict(salt.added) == {"D/sodium-chloride": Fraction(6, 10), "A/water": water * Fraction(4, 100)}


def test_warmth_is_carried_and_mixed() -> None:
    found = process(sums("hand-cream"))
    warm = {row.stage.step.id: row.warmth for row in found.rows}

    emulsify, measured = warm["emulsify"], warm["set-pH"]
    assert emulsify is not None
    assert measured is not None
    assert (emulsify.low, emulsify.stated) == (Fraction("345.15"), True)
    assert (measured.high, measured.stated) == (Fraction("313.15"), False)


def test_what_a_charge_lives_through() -> None:
    found = process(sums("face-polish"))
    life = next(life for life in found.lives if "C/silica-polishing" in life.charges)

    assert ["fold-polish", "finish", "set-pH", "even-out"] == [row.stage.step.id for row in life.rows]
    assert {"low": 35 * 60, "fold": 20 * 60} == life.times
    assert life.tip == pytest.approx(0.6535, abs=1e-4)  # pi x 0.52 m x 24 rpm
    assert life.hottest == Fraction("303.15")


def test_energy_of_a_thin_content() -> None:
    """Np 0.35 of the anchor, 40 rpm, 0.52 m, in what is water and glycerin as yet; an anchor turns nothing over."""
    found = process(sums("hand-cream"))
    work = next(row.work for row in found.rows if row.stage.step.id == "draw-water")

    assert work.volume is not None
    assert work.power == pytest.approx(0.35 * work.mass / work.volume * (40 / 60) ** 3 * 0.52**5)
    assert (None, None) == (work.turnovers, work.blend_time)


def test_a_thick_content_is_not_computed_as_water() -> None:
    """The paste of 60 to 110 Pa*s: no energy for the rotor-stator in it, and no blend time for the anchor."""
    found = process(sums("face-polish"))
    work = {row.stage.step.id: row.work for row in found.rows}

    assert (None, None) == (work["open-silica"].power, work["open-silica"].energy)
    assert "the step states no viscosity; the spec has 60 to 110 Pa*s" in work["open-silica"].missing[0]
    assert work["finish"].blend_time is None
    assert "laminar" == work["finish"].regime


def test_a_batch_size_scales_masses_exactly() -> None:
    whole = sums("hand-cream")
    one, seven = (process(whole, Fraction(size)) for size in (1, 7))

    for a, b in zip(one.rows, seven.rows, strict=True):
        assert {vessel: 7 * kg for vessel, kg in a.holds.items()} == b.holds


def _step(**facts: str) -> Step:
    rows = "\n".join(f'{name} = "{value}"' for name, value in facts.items())
    text = f'title = "x"\n[phase.A.charge]\nwater = 100\n[[step]]\nid = "s"\nadd = ["A"]\n{rows}\n'
    recipe = Snapshot(Files({"workspace.toml": 'title = "x"\n', "r.toml": text})).recipe("r")
    assert isinstance(recipe, Recipe)
    return recipe.steps[0]


def _machine(text: str) -> Equipment:
    found = Snapshot(
        Files({"workspace.toml": 'title = "x"\n', "equipment/m.toml": f'title = "M"\n{text}\n'})
    ).equipment("m")
    assert found is not None
    return found


OPEN = 'kind = "propeller"\nimpeller = "{size} mm"\nmetzner_otto = 10'


@pytest.mark.parametrize(
    ("equipment", "speed", "name"),
    [
        (OPEN.format(size=100), "60 rpm", "fold"),  # 0.31 m/s, 10 1/s
        (OPEN.format(size=50), "150 rpm", "low"),  # 0.39 m/s, but 25 1/s
        (OPEN.format(size=100), "500 rpm", "low"),  # 2.6 m/s
        (OPEN.format(size=100), "600 rpm", "medium"),  # 3.1 m/s
        (OPEN.format(size=100), "2000 rpm", "high"),  # 10.5 m/s
        (OPEN.format(size=100), "10 m/s", "medium"),
        ('kind = "rotor-stator"\nrotor = "28 mm"\ngap = "0.3 mm"', "2000 rpm", "medium"),  # 9,773 1/s
        ('kind = "rotor-stator"\nrotor = "28 mm"\ngap = "0.3 mm"', "2100 rpm", "high"),  # 10,263 1/s
        ('kind = "rotor-stator"\nrotor = "28 mm"', "6000 rpm", "unknown"),
        ('kind = "propeller"', "6000 rpm", "unknown"),
        ('kind = "colloid mill"\nrotor = "100 mm"\ngap = "0.1 mm"', "3000 rpm", "very high"),
        ('kind = "spatula"', "1 m/s", "fold"),
    ],
)
def test_class_by_numbers(equipment: str, speed: str, name: str) -> None:
    assert name == numbers(_step(speed=speed), _machine(equipment)).shear_class


def test_rpm_without_a_diameter_are_never_guessed() -> None:
    alone = numbers(_step(speed="6000 rpm", shear="low"), None)
    blunt = numbers(_step(speed="6000 rpm"), _machine('kind = "stirrer"'))

    assert ("unknown", None) == (alone.shear_class, alone.tip)
    assert ("no mixer is named",) == alone.missing
    assert ("'m' has no rotor or impeller diameter",) == blunt.missing
    assert not said(blunt)


def test_a_tip_speed_needs_no_diameter_to_be_classed() -> None:
    found = numbers(_step(speed="2 m/s"), None)

    assert ("low", (2.0, 2.0), None) == (found.shear_class, found.tip, found.speed)


def test_a_range_of_speeds_has_a_class_at_each_end() -> None:
    found = numbers(_step(speed="60 to 600 rpm"), _machine(OPEN.format(size=100)))

    assert ("fold", "medium") == found.classes


def test_mass_of_nothing_is_nothing() -> None:
    assert mass_of(sums("lip-balm"), {}, Fraction(100)) == 0


ABSURD = """title = "x"
batch = "0 kg"
[phase.A.charge]
water = "to 100"
[[step]]
id = "s"
into = "main"
add = ["A"]
shear = "low"
mixer = "m"
speed = "0 rpm"
time = "0 min"
viscosity = "0 Pa*s"
[spec]
pH = "1000 to 5000"
"""


def test_absurd_numbers_end_in_a_value() -> None:
    """Nothing, and numbers that no process has, are shown as they are and crash nothing."""
    from formula_vcs.figures.breakdown import Breakdown
    from formula_vcs.figures.preservatives import free_acids

    files = {
        "workspace.toml": 'title = "x"\n',
        "r.toml": ABSURD,
        "ingredients/water.toml": (
            'title = "W"\ndensity = "1 g/mL"\nhandling = "none"\n[substances]\nAqua = 99\n"Sodium Benzoate" = 1\n'
        ),
        "equipment/m.toml": (
            'title = "M"\nkind = "vessel"\nvolume = "1 L"\ndiameter = "1 m"\nimpeller = "1 m"\npower_number = 0\n'
        ),
    }
    snapshot = Snapshot(Files(files))
    recipe = snapshot.recipe("r")
    assert recipe is not None
    whole = Breakdown(snapshot.formula(recipe))

    assert [] == free_acids(whole)
    (row,) = process(whole).rows
    assert (None, None) == (row.work.blend_time, row.work.power)
    assert ("the step states a viscosity of nothing",) == row.work.missing
    assert {} == whole.formula.ingredients["water"].care
