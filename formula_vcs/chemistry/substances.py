"""Which substances the tables know, in which classes one is, and its charge in water."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Final, NamedTuple

from formula_vcs.chemistry.class_tables import of_charge
from formula_vcs.chemistry.tables import load
from formula_vcs.model.substance_classes import CHARGES, with_wider
from formula_vcs.words.late_pattern import late_pattern

# --- What a substance does to the pH: an acid or base that is known, a salt, neutral by its class, or not known


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


# --- In which classes a substance is: by the tables, or, where none has it, by what its INCI name says of its charge


class Classes(NamedTuple):
    """The classes of a substance, wider ones included; ``guessed`` where only its name says so."""

    names: frozenset[str]
    guessed: bool = False

    @property
    def charge(self) -> str:
        """Give the charge: anionic, cationic, amphoteric, non-ionic; empty where it is not known."""
        return next(iter(sorted(self.names & CHARGES)), "")


NONE: Final = Classes(frozenset())
# What a name says beyond the charge and its head. From memory, as the rules of INCI names are.
_SOAP: Final = late_pattern(r"(?:stear|palmit|laur|myrist|ole|coco|tallow|palm|oliv|palm kernel|behen)ate$")
_ETHOXYLATE: Final = late_pattern(r"peg-\d|polysorbate \d|poloxamer \d|[a-z]+eth-\d+$")


@lru_cache(maxsize=4096)
def classes_of(key: str, cas: str = "") -> Classes:
    """Give the classes of a substance by its folded INCI name, or by its CAS number where no class has the name."""
    tables = load("classes")
    found = tables["names"].get(key)
    if found is None and cas:
        found = tables["cas"].get(cas)
    if found is not None:
        return Classes(frozenset(found))
    charge = charge_of(key)
    if charge is None:
        return NONE
    return Classes(with_wider(_by_name(key, charge.charge, charge.kind)), guessed=True)


def _by_name(key: str, charge: str, kind: str) -> str:
    if kind == "carboxylate":
        return "soap" if _SOAP.search(key) else "carboxylate surfactant"
    if charge == "non-ionic" and _ETHOXYLATE.match(key):
        return "ethoxylate"
    return of_charge(charge, kind)


# --- The charge of a substance in water at the usual pH of a product, and the salts that are electrolytes


LONGEST: Final = 160  # a name is somebody else's text; none of the inventory's is longer where a rule fits
KNOWN_CHARGES: Final = ("anionic", "cationic", "amphoteric", "non-ionic")


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
