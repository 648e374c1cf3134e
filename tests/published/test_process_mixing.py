"""Mixing by numbers against a chemical-engineering library, a handbook's examples and lecture notes."""

from __future__ import annotations

from math import e, pi

import pytest
from fluids.mixing import Kp_helical_ribbon_Rieger, time_helical_ribbon_Grenville

from formula_vcs.figures.scale_up import BLEND, GAP, POWER, TIP_SPEED, cooling_ratio, new_speed
from formula_vcs.process import mixing


@pytest.mark.parametrize("sizes", [(1.9, 1.9, 0.17, 1.9, 0.19, 2), (0.6, 0.5, 0.03, 0.5, 0.05, 1)])
def test_helical_ribbon_power_constant(sizes: tuple[float, float, float, float, float, int]) -> None:
    """Rieger, Novak, Havelkova 1988 as the library `fluids` has it."""
    height, diameter, clearance, pitch, width, ribbons = sizes

    theirs = Kp_helical_ribbon_Rieger(
        D=diameter, h=height, nb=ribbons, pitch=pitch, width=width, T=diameter + 2 * clearance
    )
    assert mixing.ribbon_constant(*sizes) == pytest.approx(theirs, rel=1e-9)


def test_helical_ribbon_blend_time() -> None:
    """Handbook of Industrial Mixing, example 9-6: Kp 357.4 at 4 rpm takes 651 s."""
    assert mixing.ribbon_blend_time(357.4, 4 / 60) == pytest.approx(650.98, rel=1e-3)
    assert mixing.ribbon_blend_time(357.4, 4 / 60) == pytest.approx(
        time_helical_ribbon_Grenville(357.4, 4 / 60), rel=1e-9
    )


def test_ranges_that_are_often_quoted_do_not_map_onto_each_other() -> None:
    """10 m/s over 3 mm is 3,333 1/s, 25 m/s over 0.1 mm is 250,000 1/s: always computed, never taken from a range."""
    assert mixing.gap_shear(1 / pi, 10, 3e-3) == pytest.approx(3333.3, rel=1e-4)
    assert mixing.gap_shear(1 / pi, 25, 1e-4) == pytest.approx(250_000)


def test_power_number_has_no_g_in_si() -> None:
    """P = Np rho N^3 D^5: a disc turbine (Np 5) of 0.1 m at 10 turns a second in water takes 50 W."""
    assert mixing.power(5.0, 1000, 10, 0.1) == pytest.approx(50.0)


@pytest.mark.parametrize(
    ("number", "name"), [(9.9, "laminar"), (10, "transitional"), (10_000, "transitional"), (10_001, "turbulent")]
)
def test_regimes(number: float, name: str) -> None:
    assert mixing.regime(number) == name


def test_laminar_and_turbulent_power_meet() -> None:
    """Nagata 1975: Np is the larger of Kp / Re and the turbulent value; at Re below 10 that is P = Kp mu N^2 D^3."""
    re = mixing.reynolds(1000, 1.0, 0.5, 50.0)
    np = mixing.power_number(300, re, 0.35)

    assert mixing.power(np, 1000, 1.0, 0.5) == pytest.approx(mixing.laminar_power(300, 50.0, 1.0, 0.5))
    assert mixing.power_number(300, 1e6, 0.35) == 0.35


def test_power_law_reynolds_falls_back_to_the_newtonian() -> None:
    """With index 1 the generalised Reynolds number is the plain one (Metzner, Otto 1957)."""
    assert mixing.power_law_reynolds(1000, 2, 0.1, 0.5, 1.0, 11) == pytest.approx(mixing.reynolds(1000, 2, 0.1, 0.5))
    shear = mixing.mean_shear(11, 2)
    apparent = mixing.apparent_viscosity(3.0, 0.4, shear)
    assert mixing.power_law_reynolds(1000, 2, 0.1, 3.0, 0.4, 11) == pytest.approx(
        mixing.reynolds(1000, 2, 0.1, apparent)
    )


def test_blend_time_lines_cross_near_6440() -> None:
    """Grenville, Nienow: the turbulent and the transitional line meet at Np^(1/3) Re of (183^2 / 5.2) = 6,440."""
    assert 183**2 / 5.2 == pytest.approx(6440, abs=1)
    below = mixing.blend_time(1, 1, 0.1, 0.3, 0.3, 1000, 1000 * 0.01 / 6360)
    above = mixing.blend_time(1, 1, 0.1, 0.3, 0.3, 1000, 1000 * 0.01 / 6380)
    assert below == pytest.approx(above, rel=0.03)
    assert mixing.blend_time(1, 1, 0.1, 0.3, 0.3, 1000, 1000 * 0.01 / 199) is None


@pytest.mark.parametrize(("homogeneity", "factor"), [(0.95, 1.0), (0.99, 1.537)])
def test_other_homogeneities(homogeneity: float, factor: float) -> None:
    assert mixing.blended_to(1.0, homogeneity) == pytest.approx(factor, abs=5e-4)


@pytest.mark.parametrize(("turnovers", "through"), [(1, 63.2), (3, 95.0), (4.6, 99.0)])
def test_passes_through_the_head_are_poisson(turnovers: float, through: float) -> None:
    assert 100 * (1 - mixing.never_through(turnovers)) == pytest.approx(through, abs=0.05)
    assert mixing.never_through(1) == pytest.approx(1 / e)


def test_pilot_to_plant() -> None:
    """Lecture notes on scale-up: 0.3 m to 1.8 m, 15 s and 0.4 kW/m3: same blend time 14.4 kW/m3, same P/V 49.5 s."""
    same_blend, same_power = (new_speed(rule, 1, 0.3, 1.8) for rule in (BLEND, POWER))

    assert same_blend is not None
    assert same_power is not None
    assert 0.4 * mixing.power(1, 1, same_blend, 1.8) / 1.8**3 / (mixing.power(1, 1, 1, 0.3) / 0.3**3) == pytest.approx(
        14.4
    )
    assert 15 / same_power == pytest.approx(49.5, abs=0.1)  # a blend takes the same turns: its time goes as 1 / N


@pytest.mark.parametrize(
    ("rule", "tip", "power", "blend"),
    [(TIP_SPEED, 1, 1 / 2, 2), (POWER, 2 ** (1 / 3), 1, 2 ** (2 / 3)), (BLEND, 2, 4, 1)],
)
def test_what_a_rule_keeps_and_what_it_costs(rule: str, tip: float, power: float, blend: float) -> None:
    """HIM ch. 6: at twice the size, tip speed kept halves P/V and doubles the blend time, and so on."""
    speed = new_speed(rule, 10, 1.0, 2.0)
    assert speed is not None
    assert mixing.tip_speed(2.0, speed) / mixing.tip_speed(1.0, 10) == pytest.approx(tip)
    assert mixing.power(1, 1, speed, 2.0) / 2**3 / mixing.power(1, 1, 10, 1.0) == pytest.approx(power)


def test_gap_shear_kept() -> None:
    """The demo's two heads: 28 mm with 0.3 mm at 6000 rpm is the gap shear of 90 mm with 0.5 mm at 3110 rpm."""
    speed = new_speed(GAP, 100, 0.028, 0.090, 0.0003, 0.0005)

    assert speed is not None
    assert speed * 60 == pytest.approx(3111, abs=1)
    assert mixing.gap_shear(0.090, speed, 0.0005) == pytest.approx(mixing.gap_shear(0.028, 100, 0.0003))
    assert new_speed(GAP, 100, 0.028, 0.090) is None


def test_cooling_grows_with_the_size() -> None:
    assert cooling_ratio(0.1, 0.2) == pytest.approx(2 ** (1 / 3))


def test_energy_warms() -> None:
    """1 kW for 10 min in 100 kg is 6 kJ/kg; in water of 4.18 kJ/(kg K) that warms by 1.44 K."""
    energy = mixing.specific_energy(1000, 600, 100)

    assert energy == pytest.approx(6000)
    assert mixing.warm_up(energy, 4180) == pytest.approx(1.435, abs=1e-3)


def test_flow() -> None:
    """Nq 0.79, 2 turns a second, 0.1 m: 1.58 L/s, so 158 L are turned over every 100 s; Froude 0.041."""
    flow = mixing.pumping(0.79, 2, 0.1)

    assert flow == pytest.approx(1.58e-3)
    assert mixing.turnovers(flow, 100, 0.158) == pytest.approx(1.0)
    assert mixing.froude(2, 0.1) == pytest.approx(0.0408, abs=1e-4)
