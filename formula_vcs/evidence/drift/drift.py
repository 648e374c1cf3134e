"""One thing that is not what it was in the version that was tested."""

from __future__ import annotations

import datetime
from fractions import Fraction

from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.model.formula import Formula
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass, field
from formula_vcs.words.numbers import rounded

ANY = Fraction(1)


@dataclass(frozen=True, slots=True)
class Drift:
    """One thing that moved; only both ends count, so ten small changes are one large one, and one taken back is none.

    ``when`` is its class in the table of duties, ``about`` what moved, ``size`` how far in the measure of the class,
    1 where it has none.  ``detail`` tells two moves of one thing apart where the size does not; ``functions`` are
    those of the material that it is about.
    """

    when: str
    about: str
    text: str
    size: Fraction = ANY
    detail: str = ""
    functions: frozenset[str] = field(default=frozenset())


@dataclass(frozen=True, slots=True)
class Conditions:
    """What was tested besides the recipe: the batch, the pack and the market, where a proof states its own."""

    day: datetime.date
    size: Quantity | None = None
    pack: Quantity | None = None
    market: str = ""


class DriftSides:
    """The version that was tested and the one that is asked about, with their sums."""

    def __init__(self, old: Formula, new: Formula, conditions: Conditions) -> None:
        """Take both formulas, and what was tested besides."""
        self.old = old
        self.new = new
        self.conditions = conditions

    @property
    def sums(self) -> tuple[Breakdown, Breakdown]:
        """Give the sums of both."""
        return breakdown_of(self.old), breakdown_of(self.new)


def short(value: Fraction) -> str:
    """Write a number with at most two decimals and no idle zeros: ``5.88``, ``20``."""
    return f"{rounded(value, 2).normalize():f}"


def signed(value: Fraction) -> str:
    """Write a difference like ``short``, with its sign, a true minus included."""
    return f"{'+' if value > 0 else chr(0x2212)}{short(abs(value))}"
