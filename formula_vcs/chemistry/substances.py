"""What a substance does to the pH: an acid or base that is known, a salt, neutral by its class, or not known."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Final, NamedTuple

from formula_vcs.chemistry.tables import load

_LONGEST: Final = 160  # a name is somebody else's text; none of the inventory's is longer where a pattern fits


class Form(NamedTuple):
    """How a substance brings an acid or base of the table.

    ``acid`` is its row, ``molar_mass`` of the substance in g/mol, ``base`` the protons that a mol of it lacks,
    ``units`` how many of the acid are in a mol, ``ion`` the charge of its counter-ion.
    """

    acid: str
    molar_mass: float
    base: float
    units: float
    ion: int


class Kind(NamedTuple):
    """A class of substances that are neutral, or whose pH is not known.

    ``most`` is the % of the product up to which they are left out (None: any of what is neutral, none of what is not
    known), ``ph`` the results that this holds for, ``titre`` the mmol/g of acid or alkali that may be in them after
    all, ``solvent`` "alcohol" or "polyol", ``oil`` "inert", "ester" or "acid", ``ionic`` their g/mol where ionised.
    """

    name: str
    neutral: bool
    most: float | None
    ph: tuple[float, float] | None
    titre: float
    says: str
    solvent: str
    oil: str
    ionic: float
    soap: bool


def forms_of(inci: str, cas: str = "") -> tuple[Form, ...]:
    """Give how a substance (folded INCI name) brings acids and bases; a CAS number tells its hydrates apart."""
    table = load("acids")
    mass = table["hydrates"].get(inci, {}).get(cas)
    return tuple(
        Form(acid, mass or stated, base, units, ion) for acid, stated, base, units, ion in table["forms"].get(inci, ())
    )


def said_of(inci: str) -> str:
    """Give what has to be said of a substance that is counted; empty for most."""
    words: str = load("acids")["says"].get(inci, "")
    return words


def strong_of(inci: str) -> tuple[float, float] | None:
    """Give g/mol and the equivalents of alkali (acid below 0) of a strong acid or alkali."""
    found = load("acids")["strong"].get(inci)
    return None if found is None else (found[0], found[1])


@lru_cache(maxsize=16384)
def kind_of(inci: str) -> Kind | None:
    """Give the class of a substance by its folded INCI name, names before patterns; None where none fits."""
    table = load("neutral")
    place = table["names"].get(inci)
    if place is None and len(inci) <= _LONGEST:
        place = next((at for pattern, needed, but, at in table["patterns"] if _fits(inci, pattern, needed, but)), None)
    return None if place is None else _kind(place)


def kind_by_function(inci: str, functions: Iterable[str]) -> Kind | None:
    """Give the class of a substance that no name settles by what its material is there for."""
    table = load("neutral")["functions"]
    for function in functions:
        but, place = table.get(function.casefold(), ("", None))
        if place is not None and not (but and re.search(but, inci[:_LONGEST])):
            return _kind(place)
    return None


def _fits(inci: str, pattern: str, needed: list[str], but: str) -> bool:
    if needed and not any(text in inci for text in needed):  # far quicker than to compile the pattern
        return False
    return re.search(pattern, inci) is not None and not (but and re.search(but, inci))


def _kind(place: int) -> Kind:
    row = load("neutral")["kinds"][place]
    window = row.get("ph")
    return Kind(
        row["name"],
        row["verdict"] == "neutral",
        row.get("most"),
        None if window is None else (window[0], window[1]),
        row.get("titre", 0.0),
        row.get("says", ""),
        row.get("solvent", ""),
        row.get("oil", ""),
        row.get("ionic", 0.0),
        row.get("soap", False),
    )
