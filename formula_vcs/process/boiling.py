"""At what pressure water boils.

Saturation pressure of ordinary water, 273.16 to 647.096 K: Wagner and Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783,
equation 1, as in the IAPWS supplementary release SR1-86 (1992).  Formula and coefficients from memory; held against the
values that IAPWS-IF97 (2007), table 35, is checked by.
"""

from __future__ import annotations

from math import exp
from typing import Final

_CRITICAL_K: Final = 647.096
_CRITICAL_PA: Final = 22.064e6
_LEAST_K: Final = 273.16
_TERMS: Final = (
    (1.0, -7.85951783),
    (1.5, 1.84408259),
    (3.0, -11.7866497),
    (3.5, 22.6807411),
    (4.0, -15.9618719),
    (7.5, 1.80122502),
)


def water_pressure(kelvin: float) -> float | None:
    """Give the pressure in Pa at which pure water boils at a temperature; None outside the range of the formula."""
    if not _LEAST_K <= kelvin <= _CRITICAL_K:
        return None
    rest = 1 - kelvin / _CRITICAL_K
    return float(_CRITICAL_PA * exp(_CRITICAL_K / kelvin * sum(factor * rest**power for power, factor in _TERMS)))


def boils_at(pascal: float) -> float | None:
    """Give the temperature in K at which pure water boils under a pressure; None outside the range of the formula."""
    low, high = _LEAST_K, _CRITICAL_K
    if not (water_pressure(low) or 0) <= pascal <= _CRITICAL_PA:
        return None
    for _ in range(60):
        middle = (low + high) / 2
        if (water_pressure(middle) or 0) < pascal:
            low = middle
        else:
            high = middle
    return (low + high) / 2
