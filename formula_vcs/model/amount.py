"""How much of an ingredient a charge is."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass, field

AmountKind = Literal["percent", "parts", "mass", "volume", "balance", "open"]


@dataclass(frozen=True, slots=True)
class Amount:
    """One amount as written.

    ``percent`` and ``parts`` carry an exact ``value``; ``mass`` and ``volume`` a ``quantity``; ``balance`` the sum
    that it fills up to, as ``value`` or, in a recipe by mass, as ``quantity``, a mass or the volume of it all; ``open``
    is a "q.s." without a number.
    """

    kind: AmountKind
    value: Decimal = Decimal(0)
    quantity: Quantity | None = None
    text: str = field(default="", compare=False)

    def __str__(self) -> str:
        """Write the amount as a chemist does."""
        return f"{self.text} %" if self.kind == "percent" else self.text


@dataclass(frozen=True, slots=True)
class BookTotal:
    """The sum that a recipe from a book claims: "1000 g", 100, or "about 1000 g"."""

    value: Decimal = Decimal(0)
    quantity: Quantity | None = None
    about: bool = False
    text: str = field(default="", compare=False)

    def __str__(self) -> str:
        """Write the total as the book does."""
        return self.text


@dataclass(frozen=True, slots=True)
class Addition:
    """What a step adds: a phase, one charge of it, or a share (0 to 1 in base units) of a charge."""

    what: str
    share: Quantity | None = None

    def __str__(self) -> str:
        """Write the addition as the recipe does."""
        return self.what if self.share is None else f"{self.share} of {self.what}"


@dataclass(frozen=True, slots=True)
class Accepted:
    """A finding accepted on purpose: why, and until which day."""

    why: str
    until: object = None

    def __str__(self) -> str:
        """Write the reason, with its end where it has one."""
        return self.why if self.until is None else f"{self.why} (until {self.until})"


@dataclass(frozen=True, slots=True)
class Price:
    """A price in force from ``since`` (always, where None) for ``least`` or more (any quantity, where None).

    ``position`` is its number in the file, from 1; 0 where it comes from none.
    """

    cost: Quantity
    least: Quantity | None = None
    since: object = None
    position: int = field(default=0, compare=False)

    def __str__(self) -> str:
        """Write the price with its conditions."""
        parts = [str(self.cost)]
        if self.least is not None:
            parts.append(f"from {self.least}")
        if self.since is not None:
            parts.append(f"since {self.since}")
        return " ".join(parts)
