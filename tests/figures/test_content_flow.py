"""Which formula of mixing holds at a step: by the step's viscosity, the spec's, the product's kind, or none."""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.content_flow import thinning
from formula_vcs.figures.process_run import process
from formula_vcs.figures.step_work import StepWork
from formula_vcs.toml.package_data import load
from formula_vcs.workspace.snapshot import Files, Snapshot

RECIPE = """\
title = "x"
{header}
batch = "100 kg"

[phase.A.charge]
water = "to 100"
{charges}

[[step]]
id = "s"
into = "main"
add = ["A"]
shear = "low"
mixer = "m"
speed = "{speed}"
time = "10 min"
{viscosity}

[spec]
{spec}
"""
PROPELLER = 'kind = "propeller"\nimpeller = "100 mm"\npower_number = 0.35\nflow_number = 0.5\nmetzner_otto = 10'
TANK = (
    'kind = "vessel"\nvolume = "200 L"\ndiameter = "500 mm"\nimpeller = "{size} mm"\npower_number = 1.27\n'
    "flow_number = 0.79"
)


def work(
    *, header: str = "", charges: str = "glycerin = 5", speed: str = "600 rpm", viscosity: str = "", spec: str = "",
    machine: str = PROPELLER,
) -> StepWork:  # fmt: skip
    """Work out the one step of a recipe; materials are water, glycerin and gum, all of 1 g/mL."""
    stated = f'viscosity = "{viscosity}"' if viscosity else ""
    limits = f'viscosity = "{spec}"' if spec else ""
    files = {
        "workspace.toml": 'title = "x"\n',
        "r.toml": RECIPE.format(header=header, charges=charges, speed=speed, viscosity=stated, spec=limits),
        "equipment/m.toml": f'title = "M"\n{machine}\n',
    }
    for name, inci in (("water", "Aqua"), ("glycerin", "Glycerin"), ("gum", "Xanthan Gum")):
        files[f"ingredients/{name}.toml"] = f'title = "{name}"\ndensity = "1 g/mL"\n[substances]\n"{inci}" = 100\n'
    snapshot = Snapshot(Files(files))
    recipe = snapshot.recipe("r")
    assert recipe is not None
    (row,) = process(Breakdown(snapshot.formula(recipe)), Fraction(100)).rows
    return row.work


GUM = "gum = 1"
TURBULENT = 0.35 * 1000 * 10**3 * 0.1**5  # W at 600 rpm


def test_what_is_water_and_dissolves_in_it_is_turbulent() -> None:
    found = work()

    assert found.power == pytest.approx(TURBULENT)
    assert found.turnovers is not None
    assert () == found.missing


@pytest.mark.parametrize(("charges", "thin"), [("glycerin = 50", True), ("glycerin = 51", False), (GUM, False)])
def test_a_syrup_or_a_gum_is_not_taken_for_thin(charges: str, thin: bool) -> None:
    assert thin == (work(charges=charges).power is not None)


def test_a_thick_content_without_a_viscosity_is_not_known() -> None:
    found = work(charges=GUM, header='form = "paste"')

    assert (None, None, None) == (found.power, found.energy, found.turnovers)
    assert ("the step states no viscosity, nor does the spec",) == found.missing


def test_a_product_as_thin_as_water_is_known_by_its_kind() -> None:
    assert work(charges=GUM, header='product = "mouthwash"').power == pytest.approx(TURBULENT)


def test_the_steps_own_viscosity_makes_the_reynolds_number() -> None:
    """1000 x 10 x 0.1^2 / 1 is 100: Np is Kp of a propeller, 41, over 100."""
    found = work(charges=GUM, viscosity="1 Pa*s")

    assert 100 == pytest.approx(found.reynolds)
    assert found.power == pytest.approx(TURBULENT / 0.35 * 0.41)
    assert ("transitional", None) == (found.regime, found.turnovers)


def test_a_paste_takes_more_power_than_the_turbulent_formula_says() -> None:
    """150 Pa*s: Re is 0.67, and Kp / Re is 61.5, 176 times the turbulent power number."""
    found = work(charges=GUM, viscosity="150 Pa*s")

    assert "laminar" == found.regime
    assert found.power == pytest.approx(41 * 150 * 10**2 * 0.1**3)


@pytest.mark.parametrize(("viscosity", "known"), [("9.9 mPa*s", True), ("10.1 mPa*s", False)])
def test_a_power_number_alone_holds_above_a_reynolds_number_of_10_000(viscosity: str, known: bool) -> None:
    machine = PROPELLER.replace('kind = "propeller"', 'kind = "stirrer"')
    found = work(charges=GUM, viscosity=viscosity, machine=machine)

    assert known == (found.power is not None)
    assert known == (found.turnovers is not None)
    assert known or "'m' has no laminar_constant" in found.missing[0]


@pytest.mark.parametrize(("spec", "number"), [("at most 50 mPa*s", 2000), ("10 to 50 mPa*s", 2000)])
def test_a_thin_spec_is_the_viscosity_of_every_step(spec: str, number: float) -> None:
    assert work(charges=GUM, spec=spec).reynolds == pytest.approx(number)


def test_a_thick_spec_is_thinned_to_the_tool() -> None:
    """100 Pa*s of a paste at 10 x 10 1/s: 100 x 100^-0.65 is 5.01 Pa*s, and Re 19.95."""
    found = work(charges=GUM, spec="80 to 100 Pa*s", header='form = "paste"')

    assert found.reynolds == pytest.approx(1000 * 10 * 0.01 / (100 * 100**-0.65))
    assert "viscosity of the spec, 80 to 100 Pa*s, thinned to 5.01 Pa*s at the tool" in found.basis


@pytest.mark.parametrize(
    ("header", "machine", "why"),
    [
        ('form = "anhydrous"', PROPELLER, "how its form thins is not known"),
        (
            'form = "paste"',
            PROPELLER.replace('"propeller"', '"stirrer"').replace("\nmetzner_otto = 10", ""),
            "metzner_otto",
        ),
    ],
)
def test_a_thick_spec_that_cannot_be_thinned_is_not_used(header: str, machine: str, why: str) -> None:
    found = work(charges=GUM, spec="80 to 100 Pa*s", header=header, machine=machine)

    assert found.power is None
    assert why in found.missing[0]


def test_a_wash_is_newtonian_to_30_per_second() -> None:
    form = load("flow")["form"]["surfactant"]

    assert 1.0 == thinning(form, 30)
    assert 0.5 == pytest.approx(thinning(form, 120))


@pytest.mark.parametrize(("size", "known"), [(349, True), (350, False)])
def test_a_tool_that_sweeps_the_wall_has_no_blend_time(size: int, known: bool) -> None:
    """From 0.7 of the vessel's diameter on."""
    found = work(machine=TANK.format(size=size))

    assert known == (found.blend_time is not None)
    assert known == (found.turnovers is not None)
    assert known or "sweeps the wall" in found.missing[0]


def test_an_anchor_has_none_by_its_kind() -> None:
    found = work(machine=PROPELLER.replace("propeller", "anchor"))

    assert (None, None) == (found.blend_time, found.turnovers)


def test_a_helical_ribbon_has_its_own_blend_time_in_laminar_flow() -> None:
    """896,000 Kp^-1.69 / N: HIM example 9-6 has 651 s at Kp 357.4 and 4 rpm."""
    machine = 'kind = "helical ribbon"\nimpeller = "450 mm"\npower_number = 0.35\nlaminar_constant = 357.4'
    found = work(charges=GUM, viscosity="50 Pa*s", speed="4 rpm", machine=machine)

    assert "laminar" == found.regime
    assert found.blend_time == pytest.approx(651, abs=0.5)
