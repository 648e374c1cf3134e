"""Several lots in one charge: how much of it each is, and what they come to together.

A value of the mixture is the mean of its lots' values by mass.  That is exact for what adds up (moisture, assay, salt);
a viscosity of a mixture lies between those of its lots, and is taken at the same place.  A pH does not mix by mass.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.model.batch import BatchCharge
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass, replace
from formula_vcs.trace.cause_file import folded
from formula_vcs.trace.compare_measurements import digit
from formula_vcs.units.unit_reading import convert
from formula_vcs.words.numbers import rounded

Shares = Mapping[str, Fraction | None]
_MOST_PLACES: Final = 12
_NOT_BY_MASS: Final = frozenset({"ph"})


@dataclass(frozen=True, slots=True)
class LotShare:
    """One of the lots of a charge: its share of the mass, None where not all are weighed, and what is known of it."""

    lot: str
    share: Fraction | None
    value: Quantity | None

    @property
    def words(self) -> str:
        """Say it: ``cm-1 2000 mPa*s``."""
        return f"{self.lot} {'not stated' if self.value is None else self.value}"


def shares_of(charge: BatchCharge | None) -> dict[str, Fraction | None]:
    """Give each lot's share of the mass of a charge, None where a mass is missing; a single lot is all of it."""
    masses: dict[str, Fraction | None] = {}
    for portion in () if charge is None else charge.weighings:
        if portion.lot is not None:
            before = masses.get(portion.lot, Fraction(0))
            more = None if portion.weighed is None else portion.weighed.base
            masses[portion.lot] = None if before is None or more is None else before + more
    if len(masses) == 1:
        return dict.fromkeys(masses, Fraction(1))
    known = [mass for mass in masses.values() if mass is not None]
    whole = sum(known, Fraction(0)) if len(known) == len(masses) else Fraction(0)
    return {lot: mass / whole if whole and mass is not None else None for lot, mass in masses.items()}


def main_of(shares: Shares, but: Iterable[str] = ()) -> str | None:
    """Name the lot with most in a charge, the first of equals, of those that are not to be left out."""
    left = [lot for lot in shares if lot not in set(but)]
    return max(left, key=lambda lot: shares[lot] or Fraction(0), default=None)


def mixed(name: str, portions: Sequence[LotShare]) -> Quantity | None:
    """Give the value of a mixture, to the last digit of its lots; None where it cannot be said."""
    values = [portion.value for portion in portions]
    first = values[0] if values else None
    if first is None or any(value is None or not value.comparable(first) for value in values):
        return None
    known = [(portion.share, value) for portion, value in zip(portions, values, strict=True) if value is not None]
    if all(value.base == first.base for _, value in known):
        return first
    if folded(name) in _NOT_BY_MASS or any(share is None for share, _ in known):
        return None
    number = sum(((share or Fraction(0)) * convert(value, first.unit) for share, value in known), Fraction(0))
    last = min(digit(value, first.unit) for _, value in known)
    places = next((places for places in range(_MOST_PLACES) if Fraction(1, 10**places) <= last), _MOST_PLACES)
    value = rounded(number, places)
    base = sum(((share or Fraction(0)) * one.base for share, one in known), Fraction(0))
    return replace(first, text=f"{value:f} {first.unit}".rstrip(), value=value, base=base)


def title(lots: Sequence[str], shares: Shares) -> str:
    """Name the lots of a charge, several with their shares: ``gl-1 (60 %), gl-2 (40 %)``."""
    return ", ".join(_titled(lot, shares.get(lot), alone=len(lots) == 1) for lot in lots)


def _titled(lot: str, share: Fraction | None, *, alone: bool) -> str:
    return lot if alone or share is None else f"{lot} ({rounded(share * 100, 1).normalize():f} %)"
