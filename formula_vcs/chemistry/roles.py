"""Roles that a product needs somebody for: chelator, antioxidant, buffer ...; the table, as values."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Any

from formula_vcs.chemistry.tables import load
from formula_vcs.model.finding import Severity
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.values import dataclass


@dataclass(frozen=True, slots=True)
class Need:
    """What a role is there for: something in the product above some %, enough water, a line of the spec, a form.

    All that is stated must be so.  ``words`` stand in "... was there for WORDS".
    """

    words: str
    severity: Severity
    substances: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()
    above: Fraction = Fraction(0)
    water: Fraction = Fraction(0)
    spec: str = ""
    emulsion: str = ""
    form: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Role:
    """A role: who holds it, from how much (``floor``, % of the product) on, and what it is there for.

    ``both`` are the acids and salts (folded INCI names) of a buffer, which is held by one of each.  ``always`` says
    that its going is worth a word whatever it was there for.
    """

    id: str
    says: str
    floor: Fraction
    needs: tuple[Need, ...]
    classes: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()
    both: tuple[tuple[frozenset[str], frozenset[str]], ...] = ()
    emulsion: str = ""
    always: bool = False


@lru_cache(maxsize=1)
def roles() -> tuple[Role, ...]:
    """Give the roles that ship."""
    return tuple(map(_role, load("roles")["rows"]))


def _role(row: dict[str, Any]) -> Role:
    return Role(
        row["id"], row["says"], Fraction(row["floor"]), tuple(map(_need, row["need"])),
        tuple(row.get("class", ())), tuple(row.get("function", ())),
        tuple((_folded(pair["acid"]), _folded(pair["salt"])) for pair in row.get("both", ())),
        row.get("emulsion", ""), row.get("always", False),
    )  # fmt: skip


def _need(row: dict[str, Any]) -> Need:
    return Need(
        row["words"], row["severity"], tuple(map(inci_key, row.get("substances", ()))), tuple(row.get("class", ())),
        tuple(row.get("function", ())), Fraction(row.get("above", 0)), Fraction(row.get("water", 0)),
        row.get("spec", ""), row.get("emulsion", ""), tuple(row.get("form", ())),
    )  # fmt: skip


def _folded(names: list[str]) -> frozenset[str]:
    return frozenset(map(inci_key, names))
