"""How a figure is called and to how many decimals it is shown; what is exact stays exact in json."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.figures.figure import Figure
from formula_vcs.words.numbers import apportion, rounded, shown

_WORDS: Final = {
    "cost_per_kg": "cost per kg",
    "cost_per_pack": "cost per pack",
    "formulation_water": "formulation water",
    "density_corrected": "density, corrected",
    "ph_estimate": "pH",
    "fluoride_ppm": "fluoride",
    "active_ppm": "actives",
    "required_hlb": "required HLB",
    "emulsifier_hlb": "HLB of emulsifiers",
}
_PLACES: Final = {
    "cost_per_kg": 4, "cost_per_pack": 4, "density": 4, "total": 6, "density_corrected": 4, "water_activity": 3,
    "free_acid": 3, "fluoride_ppm": 1, "active_ppm": 0,
}  # fmt: skip
_CAPITALS: Final = {name: name.upper() for name in ("cosmos", "ppai", "pemo", "nni", "nop")}
_FINEST: Final = 12
NOT_KNOWN: Final = "not known"
MINUS: Final = "\u2212"


def called(name: str) -> str:
    """Give the words for a figure: ``natural origin, without water``."""
    base, _, without = name.partition("_without_water")
    words = _WORDS.get(base) or " ".join(_CAPITALS.get(word, word) for word in base.split("_"))
    return f"{words}, without water" if name.endswith("_without_water") and not without else words


def absent(figure: Figure) -> str:
    """Say of a figure without a value that it is not known, or that there is nothing it could be about."""
    return NOT_KNOWN if figure.missing else "does not apply"


def places(name: str) -> int:
    """Say to how many decimals a figure is shown beside another of its kind."""
    return _PLACES.get(name, 2)


def alone(name: str, value: Fraction) -> str:
    """Write a figure by itself; a total with every digit that it has."""
    return below_all(value, 2, 6) if name == "total" else below_all(value, places(name), places(name))


def estimated(name: str, value: Fraction, span: tuple[Fraction, Fraction] | None) -> str:
    """Write an estimate by itself, to one decimal where its range is a fifth wide or more."""
    wide = span is not None and span[1] - span[0] >= Fraction(1, 5)
    return shown(value, 1, 1) if wide else alone(name, value)


def below_all(value: Fraction, least: int, most: int) -> str:
    """Write a percentage with some decimals, more where it takes them to be exact; 99.999 never reads as 100."""
    text = shown(value, least, most)
    while Fraction(text) == 100 and value != 100 and least < _FINEST:
        least += 1
        text = f"{rounded(value, least):f}"
    return text


def sign(value: Decimal) -> str:
    """Write a rounded difference with its sign, a true minus included; nothing is neither more nor less."""
    if not value:
        return f"{abs(value):f}"
    return f"{'+' if value > 0 else MINUS}{abs(value):f}"


def parts(values: list[Fraction], decimals: int, whole: Decimal) -> list[Decimal]:
    """Round parts so that they add up to a whole that was rounded elsewhere: the printed one.

    >>> parts([Fraction("0.004"), Fraction("0.004")], 2, Decimal("0.02"))
    [Decimal('0.01'), Decimal('0.01')]
    """
    found = apportion(values, decimals)
    gap = whole - sum(found, Decimal(0))
    if gap and found:
        # the part that was rounded furthest the other way gives or takes what is left over
        way = 1 if gap > 0 else -1
        index = max(range(len(values)), key=lambda i: ((values[i] - Fraction(found[i])) * way, -i))
        found[index] += gap
    return found
