"""Two things that do not go together: what each side is, under which condition, and what happens."""

from __future__ import annotations

from fractions import Fraction
from typing import Final, Literal

from formula_vcs.model.finding import Severity
from formula_vcs.model.law_row import EVERYTHING, Scope
from formula_vcs.model.values import dataclass

Where = Literal["product", "water", "phase", "vessel"]
WHERE: Final[tuple[Where, ...]] = ("product", "water", "phase", "vessel")
FIRST: Final = ("one", "other")


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a pair: substances (folded INCI names), classes or functions of materials.

    ``above`` is % w/w of the product: no more than that of all of them together is left alone.
    """

    substances: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()
    spelled: tuple[str, ...] = ()
    above: Fraction = Fraction(0)

    @property
    def tags(self) -> frozenset[str]:
        """What a part of the product must be called by to be meant: see `chemistry.parts`."""
        return frozenset(
            (*self.substances, *map(class_tag, self.classes), *(f"function:{name}" for name in self.functions))
        )

    @property
    def words(self) -> str:
        """Name what the side means: ``chelator``, ``Octocrylene or photostabiliser``."""
        return " or ".join((*self.spelled, *self.classes, *self.functions))


def class_tag(name: str) -> str:
    """The tag of a class, which no INCI name can be."""
    return f"class:{name}"


@dataclass(frozen=True, slots=True)
class Pair:
    """A row of the pairs that do not go together.

    ``one`` with ``other``; or with nothing of ``without`` (or no more than its ``above``); or outside a pH
    (``above_pH``, ``below_pH``); or in a step hotter than ``hot`` (K), or with at least the shear ``rough`` after the
    two met.  Where several are named all must be so.  ``together`` says how near the two must come: anywhere in the
    product, in one water phase, in one phase of the recipe, or in one vessel; ``first`` names the side that must have
    been in the vessel first; ``emulsion`` keeps the row to emulsions of that kind.  ``off`` is the house's reason for
    switching the row off.
    """

    id: str
    one: Side
    other: Side | None = None
    without: Side | None = None
    together: Where = "water"
    emulsion: str = ""
    above_pH: Fraction | None = None
    below_pH: Fraction | None = None
    first: str = ""
    hot: Fraction | None = None
    hot_said: str = ""
    rough: str = ""
    what: str = ""
    instead: str = ""
    severity: Severity = "warn"
    source: str = ""
    checked: str = ""
    where: Scope = EVERYTHING
    unless: Scope = EVERYTHING
    off: str = ""
    file: str = ""

    @property
    def proof(self) -> str:
        """The source as findings carry it, with how it was checked where that is not the text."""
        return self.source if self.checked in ("", "text", "house") else f"{self.source} [{self.checked}]"

    @property
    def asks_pH(self) -> bool:
        """Say whether the row judges by the product's pH."""
        return self.above_pH is not None or self.below_pH is not None
