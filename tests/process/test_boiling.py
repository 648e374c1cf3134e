"""When water boils, against the published check values of IAPWS-IF97 (2007), table 35: 300, 500 and 600 K."""

from __future__ import annotations

import pytest

from formula_vcs.process.boiling import boils_at, water_pressure


@pytest.mark.parametrize(("kelvin", "pascal"), [(300, 3536.58941), (500, 2.63889776e6), (600, 12.3443146e6)])
def test_the_saturation_pressure_is_the_published_one(kelvin: float, pascal: float) -> None:
    assert pascal == pytest.approx(water_pressure(kelvin), rel=3e-4)
    assert kelvin == pytest.approx(boils_at(pascal), abs=0.03)


def test_water_boils_at_99_97_degrees_under_one_atmosphere() -> None:
    """ITS-90: 99.974 degC under 101.325 kPa."""
    assert 273.15 + 99.974 == pytest.approx(boils_at(101_325), abs=0.01)


@pytest.mark.parametrize("kelvin", [273.15, 647.2, 0.0, -5.0])
def test_outside_of_its_range_it_says_nothing(kelvin: float) -> None:
    assert water_pressure(kelvin) is None


def test_under_its_triple_point_it_says_nothing() -> None:
    assert boils_at(600) is None
    assert boils_at(23e6) is None
