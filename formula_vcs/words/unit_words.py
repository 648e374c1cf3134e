"""Numbers in the words of findings."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from formula_vcs.words.numbers import shown

_PRINTED: Final = (("degC", "\u00b0C"), ("Pa*s", "Pa\u00b7s"), ("uS/cm", "\u00b5S/cm"), ("mN*m", "mN\u00b7m"))
ZERO_CELSIUS: Final = Fraction("273.15")  # in K, by definition


def celsius(kelvin: Fraction) -> str:
    """Write a temperature in K as a chemist reads it: ``78 degC``."""
    return f"{shown(kelvin - ZERO_CELSIUS, 0, 1)} degC"


def kelvins(difference: Fraction) -> str:
    """Write a difference of temperatures: ``12 K``."""
    return f"{shown(difference, 0, 1)} K"


def litres(volume: Fraction | float) -> str:
    """Write a volume in m3 as litres, with as many digits as mean something."""
    value = float(volume) * 1000
    return f"{value:,.0f} L" if value >= 100 else f"{value:.1f} L" if value >= 1 else f"{value:.3f} L"


def hours(seconds: Fraction) -> str:
    """Write a time in s: ``12 h``, ``45 min``."""
    return f"{shown(seconds / 3600, 0, 1)} h" if seconds >= 3600 else f"{shown(seconds / 60, 0, 1)} min"


def printed(text: str) -> str:
    """Write units as print has them, where a file has them in ASCII: degC as °C, Pa*s as Pa·s.

    >>> printed("18 to 28 Pa*s at 20 degC")
    '18 to 28 Pa·s at 20 °C'
    """
    for typed, shown_as in _PRINTED:
        text = text.replace(typed, shown_as)
    return text
