"""How much of a material a substance is where its supplier states no single number: a range, or the rest."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from formula_vcs.model.quantity import exact
from formula_vcs.model.values import dataclass, field

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
    """Give the half of a sum of decimals as a decimal, which it always is."""
    found = exact(value)
    return found if isinstance(found, Decimal) else Decimal(0)
