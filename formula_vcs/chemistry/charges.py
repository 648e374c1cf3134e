"""The charge of a substance in water at the usual pH of a product, and the salts that are electrolytes."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final, NamedTuple

from formula_vcs.chemistry.tables import load

LONGEST: Final = 160  # a name is somebody else's text; none of the inventory's is longer where a rule fits
CHARGES: Final = ("anionic", "cationic", "amphoteric", "non-ionic")


class ElectricCharge(NamedTuple):
    """A charge of `CHARGES`, the head or kind that bears it (sulfate, quat, polymer ...), and how it is known.

    ``listed`` says that the substance stands in the list; False: its name follows a rule, good for a note and no more.
    """

    charge: str
    kind: str
    listed: bool


class Salt(NamedTuple):
    """A salt of a strong acid and a strong base: molar mass in g/mol, ionic strength of 1 mol/kg, highest charge."""

    molar_mass: float
    strength: float
    valence: int


@lru_cache(maxsize=16384)
def charge_of(inci: str) -> ElectricCharge | None:
    """Give the charge of a substance by its folded INCI name; None where neither list nor rule knows it."""
    table = load("charge")
    found = table["names"].get(inci)
    if found is not None:
        charge, kind = found
        return ElectricCharge(charge, kind, listed=True)
    for pattern, needed, charge, kind in table["rules"] if len(inci) <= LONGEST else ():
        if any(text in inci for text in needed or ("",)) and re.search(pattern, inci):
            return ElectricCharge(charge, kind, listed=False) if charge else None
    return None


def salt_of(inci: str) -> Salt | None:
    """Give what an electrolyte brings, by folded INCI name; None for what is no salt of the table."""
    found = load("charge")["salts"].get(inci)
    return None if found is None else Salt(*found)
