"""In which classes a substance is: by the tables, or, where none has it, by what its INCI name says of its charge."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

from formula_vcs.chemistry.charges import charge_of
from formula_vcs.chemistry.class_tables import of_charge
from formula_vcs.chemistry.tables import load
from formula_vcs.model.substance_classes import CHARGES, with_wider
from formula_vcs.words.late_pattern import late_pattern


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
