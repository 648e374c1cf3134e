"""Weak acids: how much of one is undissociated at a pH, how much base brings it there, which pH a mixture has.

Ideal solutions at 25 degC (no activity coefficients): estimates, good to some tenths of a pH in dilute water, worse in
alcohol, where benzoic acid's pK rises by two units (J. Res. Natl. Bur. Stand. 71A (1967) 379-384).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import accumulate
from typing import Final

WATER_PK: Final = 13.995  # 25 degC, CRC Handbook (from memory)


def undissociated(pH: float, pka: float) -> float:
    """Give the undissociated fraction of a monoprotic acid, 0 to 1: 1 / (1 + 10^(pH - pKa)).

    Henderson 1908, Hasselbalch 1917.
    """
    return float(1 / (1 + 10 ** (pH - pka)))


def fractions(pH: float, pkas: Sequence[float]) -> list[float]:
    """Give the fractions of all forms of a polyprotic acid at a pH, the fully protonated one first."""
    steps = [10 ** (pH - pka) for pka in pkas]
    forms = list(accumulate(steps, lambda product, step: product * step, initial=1.0))
    whole = sum(forms)
    return [form / whole for form in forms]


def mean_charge(pH: float, pkas: Sequence[float]) -> float:
    """Give the mean number of protons that a molecule has given off at a pH."""
    return sum(number * part for number, part in enumerate(fractions(pH, pkas)))


def base_needed(pH: float, acids: Mapping[tuple[float, ...], float]) -> float:
    """Give the strong base in mol/kg that brings acids to a pH: sum c n(pH) + Kw/h - h (charge balance).

    ``acids`` is {pKas: mol/kg of all its forms}.  Salts that are there already are base that is there already.
    """
    proton = 10**-pH
    water = 10 ** (pH - WATER_PK) - proton
    return float(sum(amount * mean_charge(pH, pkas) for pkas, amount in acids.items()) + water)


def base_ratio(pH: float, pkas: Sequence[float], molar_mass: float, base: float) -> float:
    """Give the g of a base (molar mass for one equivalent) that bring 1 g of an acid to a pH, water's part left out."""
    return mean_charge(pH, pkas) * base / molar_mass


def pH_of(acids: Mapping[tuple[float, ...], float], base: float) -> float:
    """Give the pH at which the charges balance, for acids as in `base_needed` and a strong base in mol/kg."""
    low, high = -1.0, 15.0
    for _ in range(60):
        middle = (low + high) / 2
        if base_needed(middle, acids) < base:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def buffer_capacity(pH: float, acids: Mapping[float, float]) -> float:
    """Give the base in mol/kg for one pH unit at a pH, monoprotic acids ``{pKa: mol/kg}`` (Van Slyke 1922)."""
    proton = 10**-pH
    weak = sum(c * 10**-pka * proton / (10**-pka + proton) ** 2 for pka, c in acids.items())
    return float(2.302585092994046 * (weak + proton + 10 ** (pH - WATER_PK)))


def water_share(total: float, free: float, water: float, oil: float, partition: float) -> float:
    """Give the free acid's concentration in the water phase: C u / (phi_w + u K phi_o).

    ``total`` in the whole, ``free`` the undissociated fraction, ``water`` and ``oil`` the phases' volume fractions,
    ``partition`` oil/water of the free acid.  Only what is free and in the water acts (Garrett 1966; from memory).
    """
    return total * free / (water + free * partition * oil)
