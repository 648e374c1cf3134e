"""The pH at which the charges of a solution balance, activities by Davies; 25 degC.

log g(z) = -0.509 z^2 (sqrt(I) / (1 + sqrt(I)) - 0.3 I): Davies, Ion Association (1962); good to I = 0.1 mol/kg within
0.02 of a pH, to 0.5 within 0.2, useless above.  pH is -log a(H).  Amounts are mol for a kg of water.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import accumulate
from math import log, sqrt
from typing import Final, NamedTuple

WATER_PK: Final = 13.995  # 25 degC, CRC Handbook (from memory)
MOST_STRENGTH: Final = 0.5
_DEBYE: Final = 0.509
_BOUNDS: Final = (-1.0, 15.0)
_LN10: Final = log(10)


class Weak(NamedTuple):
    """An acid or a base: mol/kg of all its forms, the pKa and the charge of the fully protonated one.

    ``spread`` is n of a polyacid's extended Henderson-Hasselbalch (1 for a molecule); its charges stay on the chain.
    """

    amount: float
    pkas: tuple[float, ...]
    charge: int = 0
    spread: float = 1.0


class Solution(NamedTuple):
    """Weak acids and bases, the strong alkali in mol/kg (acid below 0), and the ionic strength of all other ions."""

    weak: tuple[Weak, ...]
    base: float
    strength: float


class ChargeBalance(NamedTuple):
    """Where the charges balance: pH, ionic strength, mol/kg of alkali for one pH, and each weak's part of that."""

    pH: float
    strength: float
    capacity: float
    parts: tuple[float, ...]


class _State(NamedTuple):
    given_off: float
    squares: float
    capacity: float


def fractions(pH: float, pkas: Sequence[float]) -> list[float]:
    """Give the fractions of all forms of a polyprotic acid at a pH, the fully protonated one first (0 to 1)."""
    steps = [10 ** (pH - pka) for pka in pkas]
    forms = list(accumulate(steps, lambda product, step: product * step, initial=1.0))
    whole = sum(forms)
    return [form / whole for form in forms]


def mean_charge(pH: float, pkas: Sequence[float]) -> float:
    """Give the mean number of protons that a molecule has given off at a pH, without activities."""
    return sum(number * part for number, part in enumerate(fractions(pH, pkas)))


def davies(strength: float) -> float:
    """Give -log g of a single charge at an ionic strength in mol/kg."""
    root = sqrt(max(strength, 0.0))
    return _DEBYE * (root / (1 + root) - 0.3 * strength)


def _state(weak: Weak, pH: float, fall: float) -> _State:
    """Give the protons given off, the squares of the charges and the capacity, each for a mol."""
    if weak.spread != 1.0:
        part = 1 / (1 + 10 ** ((weak.pkas[0] - pH) / weak.spread))
        return _State(part, 0.0, _LN10 * part * (1 - part) / weak.spread)
    charge = weak.charge
    shifted = []
    for step, pka in enumerate(weak.pkas):
        held = charge - step
        shifted.append(pka + fall * (held**2 - (held - 1) ** 2))
    parts = fractions(pH, shifted)
    mean = sum(step * part for step, part in enumerate(parts))
    spread = sum(step * step * part for step, part in enumerate(parts)) - mean * mean
    return _State(mean, sum((charge - step) ** 2 * part for step, part in enumerate(parts)), _LN10 * spread)


def _excess(solution: Solution, pH: float, fall: float) -> tuple[float, float]:
    """Give the alkali that is missing at a pH (below 0: too much of it), and its slope."""
    proton, hydroxide = 10 ** (fall - pH), 10 ** (pH - WATER_PK + fall)
    value, slope = hydroxide - proton - solution.base, _LN10 * (hydroxide + proton)
    for weak in solution.weak:
        state = _state(weak, pH, fall)
        value += weak.amount * state.given_off
        slope += weak.amount * state.capacity
    return value, slope


def _root(solution: Solution, fall: float, start: float) -> float | None:
    """Find the pH where nothing is missing, by Newton between bounds that close in; None where it is beyond them."""
    low, high = _BOUNDS
    if _excess(solution, low, fall)[0] > 0 or _excess(solution, high, fall)[0] < 0:
        return None
    pH = start
    for _ in range(80):
        value, slope = _excess(solution, pH, fall)
        if value > 0:
            high = pH
        else:
            low = pH
        ahead = pH - value / slope if slope else low
        ahead = ahead if low < ahead < high else (low + high) / 2
        if abs(ahead - pH) < 1e-6:
            return ahead
        pH = ahead
    return pH


def _strength(solution: Solution, pH: float, fall: float) -> float:
    ions = 10 ** (fall - pH) + 10 ** (pH - WATER_PK + fall)
    ions += sum(weak.amount * _state(weak, pH, fall).squares for weak in solution.weak)
    return solution.strength + ions / 2


def balance(solution: Solution, *, ideal: bool = False) -> ChargeBalance | None:
    """Give where the charges balance; None where that is at a bound of what is looked at, which is no answer.

    ``ideal`` leaves activities out.  A strength above `MOST_STRENGTH` is for the caller to refuse.
    """
    fall, pH = 0.0, 7.0
    for _ in range(40):
        found = _root(solution, fall, pH)
        if found is None:
            return None
        pH = found
        strength = _strength(solution, pH, fall)
        after = 0.0 if ideal else davies(min(strength, 2 * MOST_STRENGTH))
        if abs(after - fall) < 1e-5:
            break
        fall = after
    parts = tuple(weak.amount * _state(weak, pH, fall).capacity for weak in solution.weak)
    capacity = sum(parts) + _LN10 * (10 ** (fall - pH) + 10 ** (pH - WATER_PK + fall))
    return ChargeBalance(pH, _strength(solution, pH, fall), capacity, parts)


def base_needed(pH: float, weak: Iterable[Weak]) -> float:
    """Give the strong alkali in mol/kg that brings acids to a pH, without activities; what salts bring is alkali."""
    return _excess(Solution(tuple(weak), 0.0, 0.0), pH, 0.0)[0]
