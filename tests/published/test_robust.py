"""Robust statistics against scipy, and the table of limits against a simulation of its own."""

from __future__ import annotations

import random
from fractions import Fraction

import numpy as np
import pytest
import scipy.stats

from formula_vcs.trace import robust

DRAWS = 60_000


def _values(count: int, seed: int) -> list[Fraction]:
    chance = random.Random(seed)
    return [Fraction(chance.randint(-(10**6), 10**6), 10**4) for _ in range(count)]


@pytest.mark.parametrize("count", [1, 2, 3, 4, 7, 20, 101])
def test_median_and_mad_are_those_of_scipy(count: int) -> None:
    for seed in range(20):
        values = _values(count, seed)
        plain = [float(value) for value in values]

        assert float(np.median(plain)) == pytest.approx(float(robust.median(values)))
        assert scipy.stats.median_abs_deviation(plain) == pytest.approx(float(robust.mad(values)))


def test_the_consistent_factor_is_one_by_the_upper_quartile() -> None:
    """Hampel, J. Am. Stat. Assoc. 69 (1974) 383-393: 1 / 0.6745."""
    assert 1 / scipy.stats.norm.ppf(0.75) == pytest.approx(robust.CONSISTENT, abs=1e-15)


def _draws(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Draw samples; give the distance of a new value from their median, and their 1.4826 MAD."""
    chance = np.random.default_rng(count)
    values, new = chance.standard_normal((DRAWS, count)), chance.standard_normal(DRAWS)
    middle = np.median(values, axis=1)
    deviation = np.median(np.abs(values - middle[:, None]), axis=1) * robust.CONSISTENT
    return np.abs(new - middle), deviation


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6, 7, 8, 9, 10, 15, 20])
def test_the_factors_make_the_spread_right_on_average(count: int) -> None:
    """Croux, Rousseeuw, Computational Statistics 1 (1992) 411-428 (from memory): right within 1.5 %."""
    _, deviation = _draws(count)

    assert pytest.approx(robust.factor(count) * float(deviation.mean()), rel=0.015) == 1.0


@pytest.mark.parametrize("count", [6, 8, 10, 12, 16, 20, 30])
def test_a_sound_batch_passes_the_limit_in_one_of_a_hundred_cases(count: int) -> None:
    """Three standard errors of the simulation: sqrt(0.01 x 0.99 / 60,000) = 0.04 %."""
    away, deviation = _draws(count)
    limit = robust.limit(count)

    assert limit is not None
    passed = float(np.mean(away / (robust.factor(count) * deviation) > limit))
    assert robust.chance() == pytest.approx(passed, abs=0.0013)


def test_the_limit_nears_the_normal_one() -> None:
    """scipy.stats.norm: 2.576 for 1 % at both sides, which the limits come near from above."""
    limit = robust.limit(100)

    assert limit is not None
    assert scipy.stats.norm.ppf(0.995) < limit < scipy.stats.norm.ppf(0.995) * 1.08
