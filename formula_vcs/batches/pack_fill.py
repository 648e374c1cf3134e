"""Packs from a batch, and how far one pack may fall short: Directive 76/211/EEC, Annex I.

The table and the three rules were read in the directive's text; "per cent are rounded up to the next tenth of a g or
mL" (Annex I, 2.5) and the share of 2.5 % that the sampling of Annex II lets pass are from memory.
"""

from __future__ import annotations

from fractions import Fraction
from math import floor
from typing import Final

from formula_vcs.model.values import dataclass

SOURCE: Final = "Directive 76/211/EEC, Annex I, 2.4"
# Nominal quantity up to (g or mL), the error in % of it, else in g or mL.
_TABLE: Final[tuple[tuple[int, Fraction | None, Fraction | None], ...]] = (
    (50, Fraction(9), None),
    (100, None, Fraction("4.5")),
    (200, Fraction("4.5"), None),
    (300, None, Fraction(9)),
    (500, Fraction(3), None),
    (1000, None, Fraction(15)),
    (10000, Fraction("1.5"), None),
)
_LEAST: Final = 5


@dataclass(frozen=True, slots=True)
class Fill:
    """The filling of a batch.  Masses in kg; ``nominal`` and what follows from it in ``unit``, g or mL.

    ``mean`` is the content to fill to on average, ``error`` the tolerable negative error, None outside the table.
    """

    packs: int
    nominal: Fraction
    unit: str
    mean: Fraction
    error: Fraction | None
    pack_mass: Fraction
    left: Fraction

    @property
    def short(self) -> Fraction | None:
        """Give the content under which a pack counts as short."""
        return None if self.error is None else self.nominal - self.error

    @property
    def never(self) -> Fraction | None:
        """Give the content under which no pack may be."""
        return None if self.error is None else self.nominal - 2 * self.error


def tolerable_error(nominal: Fraction) -> Fraction | None:
    """Give the tolerable negative error of a nominal quantity in g or mL; None outside 5 g to 10 kg.

    Errors that the table states in % are rounded up to a tenth of a g or mL.
    """
    if nominal < _LEAST:
        return None
    for upto, pct, flat in _TABLE:
        if nominal <= upto:
            return flat if pct is None else Fraction(-(floor(-nominal * pct / 100 * 10)), 10)
    return None


def fill(  # noqa: PLR0917 - a batch, a pack, and what lies between them
    batch: Fraction, pack: Fraction, unit: str, density: Fraction, overfill: Fraction, out: Fraction
) -> Fill:
    """Count the packs that a batch fills.

    ``batch`` in kg; ``pack`` in kg, or in m3 where ``unit`` is "mL"; ``density`` in kg/m3 (1 for a mass);
    ``overfill`` and ``out`` (what comes out of the batch) as shares.
    """
    mass = pack * density * (1 + overfill)
    usable = batch * out
    packs = int(usable // mass)
    nominal = pack * (1_000_000 if unit == "mL" else 1000)
    return Fill(packs, nominal, unit, nominal * (1 + overfill), tolerable_error(nominal), mass, usable - packs * mass)


def batch_for(packs: int, pack_mass: Fraction, overfill: Fraction, out: Fraction) -> Fraction:
    """Give the batch (kg) that so many packs need, ``pack_mass`` being the nominal content in kg."""
    return packs * pack_mass * (1 + overfill) / out


def overfill_needed(nominal: Fraction, spread: Fraction) -> Fraction | None:
    """Give the share to fill over the nominal quantity with a filling machine of a standard deviation.

    At most 2.5 % of the packs fall short by more than the tolerable error, and none (in practice one in 10,000) by
    more than twice of it: normally distributed fills, 1.96 and 3.72 standard deviations.  None outside the table.
    """
    error = tolerable_error(nominal)
    if error is None:
        return None
    shift = max(Fraction("1.96") * spread - error, Fraction("3.72") * spread - 2 * error, Fraction(0))
    return shift / nominal
