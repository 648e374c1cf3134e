"""What a law or a standard says about substances: rows of packs, product types, and the amounts that they count.

Pure values: reading them from TOML is `files/rules_file.py`, putting them together `rules/packs.py`.
"""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Final, Literal, NamedTuple

from formula_vcs.model.finding import Severity
from formula_vcs.model.values import dataclass

Kind = Literal[
    "prohibited", "limit", "sum", "window", "together", "ph", "name", "warning", "ask", "hint", "allowed", "particles"
]
KINDS: Final = (
    "prohibited",
    "limit",
    "sum",
    "window",
    "together",
    "ph",
    "name",
    "warning",
    "ask",
    "hint",
    "allowed",
    "particles",
)
PARTICLES: Final = "particles"  # synthetic polymer microparticles, whatever their names (`law/microparticles.py`)
# What a row must state besides its id and kind, and what it makes no sense without.
NEEDS: Final[dict[str, tuple[str, ...]]] = {
    "limit": ("at_most",),
    "sum": ("at_most",),
    "window": ("between",),
    "together": ("with",),
    "ph": ("ph",),
    "warning": ("words",),
    "ask": ("words",),
    "hint": ("words",),
}
CHECKED: Final = ("text", "data export", "commentary", "memory", "computed", "house")
MARKETS: Final = ("EU", "US")
CONTACTS: Final = ("leave-on", "rinse-off", "oral")
DIMENSIONS: Final = ("contact", "area", "type", "form", "age", "user", "claim")


class Scope(NamedTuple):
    """Which products are meant: in each dimension that names something, one of its names must be the product's."""

    contact: tuple[str, ...] = ()
    area: tuple[str, ...] = ()
    type: tuple[str, ...] = ()
    form: tuple[str, ...] = ()
    age: tuple[str, ...] = ()
    user: tuple[str, ...] = ()
    claim: tuple[str, ...] = ()


class DateRange(NamedTuple):
    """Days from first to last, both included; an open end is None."""

    first: datetime.date | None = None
    last: datetime.date | None = None

    def covers(self, day: datetime.date) -> bool:
        """Say whether a day lies in the span."""
        return (self.first is None or self.first <= day) and (self.last is None or day <= self.last)


ALWAYS: Final = DateRange()
EVERYTHING: Final = Scope()


@dataclass(frozen=True, slots=True)
class LawRow:
    """One line of a pack.

    ``names`` are folded INCI names and ``cas`` numbers of what it is about; ``spelled`` gives the names as written,
    ``like`` patterns of folded names ("peg-*"), for the lists of standards.
    ``at_most``, ``windows`` and ``above`` are in % w/w of the product, or in kg a pack where ``per_pack``; for what is
    prohibited ``at_most`` is what an unavoidable trace may come to.  ``basis`` names what the amounts are counted as.
    ``placed`` are the days on which a product placed on the market must meet it, ``sold`` those on which one on sale
    must.  ``unstated`` says what becomes of a row about a function where no material that brings the substance states
    any: as if it had it (""), "warn", or "none" for no finding.  ``mixed`` counts in what is mixed for use.
    ``drug`` is the monograph of an ``active`` row.
    ``at`` and ``file`` say where a house row stands.
    """

    id: str
    kind: str
    pack: str
    citation: str
    checked: str
    names: tuple[str, ...] = ()
    spelled: tuple[str, ...] = ()
    cas: tuple[str, ...] = ()
    like: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    at_most: Fraction | None = None
    windows: tuple[tuple[Fraction, Fraction], ...] = ()
    ph: tuple[Fraction | None, Fraction | None, bool] | None = None
    above: tuple[tuple[str, Fraction], ...] = ()
    basis: str = ""
    printed: str = ""
    words: str = ""
    function: str = ""
    unless_function: str = ""
    unstated: str = ""
    where: Scope = EVERYTHING
    unless: Scope = EVERYTHING
    placed: DateRange = ALWAYS
    sold: DateRange = ALWAYS
    severity: Severity = "block"
    per_pack: bool = False
    mixed: bool = False
    note: str = ""
    drug: str = ""
    file: str = ""
    at: tuple[str, ...] = ()

    @property
    def source(self) -> str:
        """The citation as findings carry it, with how it was checked where that is not the text."""
        return self.citation if self.checked in ("text", "house") else f"{self.citation} [{self.checked}]"

    def threshold(self, contact: str) -> Fraction | None:
        """The amount above which the row speaks, for a contact."""
        return next((value for name, value in self.above if name in ("", contact)), None)


@dataclass(frozen=True, slots=True)
class Product:
    """What a product is, as its type and the header of its recipe have it.

    ``form`` holds how it comes ("spray", with "aerosol" or "pump"; "powder"; "hydroalcoholic"), ``age`` the youngest
    who use it ("under-3", "adults"), ``user`` "professional" where it is made for them alone.  ``claim`` holds
    each claim of the recipe, folded, and each run of words that it begins with: a scope may name "natural-origin".
    """

    name: str
    contact: str = ""
    area: frozenset[str] = frozenset()
    types: frozenset[str] = frozenset()
    form: frozenset[str] = frozenset()
    age: frozenset[str] = frozenset()
    user: frozenset[str] = frozenset()
    claim: frozenset[str] = frozenset()

    def fits(self, scope: Scope) -> bool:
        """Say whether all that a scope asks for is true of the product."""
        return (
            (not scope.contact or self.contact in scope.contact)
            and (not scope.area or not self.area.isdisjoint(scope.area))
            and (not scope.type or not self.types.isdisjoint(scope.type))
            and (not scope.form or not self.form.isdisjoint(scope.form))
            and (not scope.age or not self.age.isdisjoint(scope.age))
            and (not scope.user or not self.user.isdisjoint(scope.user))
            and (not scope.claim or not self.claim.isdisjoint(map(str.casefold, scope.claim)))
        )

    def touches(self, scope: Scope) -> bool:
        """Say whether anything that a scope names is true of the product."""
        return (
            self.contact in scope.contact
            or not self.area.isdisjoint(scope.area)
            or not self.types.isdisjoint(scope.type)
            or not self.form.isdisjoint(scope.form)
            or not self.age.isdisjoint(scope.age)
            or not self.user.isdisjoint(scope.user)
            or not self.claim.isdisjoint(map(str.casefold, scope.claim))
        )

    def under(self, row: LawRow) -> bool:
        """Say whether a row is about this kind of product."""
        return self.fits(row.where) and not self.touches(row.unless)


@dataclass(frozen=True, slots=True)
class Factor:
    """How much of a basis one part of a substance counts as, and how sure that is (atomic weights)."""

    value: Fraction
    doubt: Fraction


ONE: Final = Factor(Fraction(1), Fraction(0))
