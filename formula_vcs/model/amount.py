"""How much of an ingredient a charge is, and of a material a substance."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from formula_vcs.model.quantity import Quantity, exact
from formula_vcs.model.values import dataclass, field

# --- How much of an ingredient a charge is


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


# --- How much of a material a substance is where its supplier states no single number: a range, or the rest


WHOLE = Fraction(100)


@dataclass(frozen=True, slots=True)
class PartSpan:
    """A share in % of a material from ``low`` to ``high``; both None where it fills up to 100."""

    low: Decimal | None
    high: Decimal | None
    text: str = field(default="", compare=False)

    @property
    def fills(self) -> bool:
        """Say whether it is what the other substances leave."""
        return self.low is None or self.high is None

    def __str__(self) -> str:
        """Write the share as a file does: ``28 to 32``, ``to 100``."""
        return "to 100" if self.fills else f"{self.low:f} to {self.high:f}"


class Held(NamedTuple):
    """A share in % of a material: the least and the most that it may be, and the middle, which is counted."""

    least: Fraction
    middle: Fraction
    most: Fraction


def held(parts: Mapping[str, Decimal | PartSpan]) -> dict[str, Held]:
    """Work out each share of a composition.

    The middle of a range counts.  What fills up takes what the middles leave, nothing where they leave nothing; its
    ends are what the others leave at theirs.
    """
    found: dict[str, Held] = {}
    for name, part in parts.items():
        if isinstance(part, Decimal):
            found[name] = Held(*[Fraction(part)] * 3)
        elif part.low is not None and part.high is not None:
            low, high = Fraction(part.low), Fraction(part.high)
            found[name] = Held(low, (low + high) / 2, high)
    sums = [sum(ends, Fraction(0)) for ends in zip(*found.values(), strict=True)] or [Fraction(0)] * 3
    least, middle, most = (max(WHOLE - one, Fraction(0)) for one in reversed(sums))
    rest = Held(least, middle, most)
    return {name: found.get(name, rest) for name in parts}


def decimal(value: Fraction) -> Decimal:
    """The half of a sum of decimals as a decimal, which it always is."""
    found = exact(value)
    return found if isinstance(found, Decimal) else Decimal(0)
