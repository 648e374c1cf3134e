"""What keeps the product besides preservatives: water activity and alcohol."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.diff.change_words import ARROW
from formula_vcs.evidence.drift.drift import Drift, DriftSides, short
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.water_activity import water_activity

_ALCOHOL: Final = ("alcohol", "alcohol denat.", "ethanol")
_LINE: Final = Fraction(20)
# where a product begins to be low-risk by ISO 29621 (0.75), and where most moulds stop (0.80, common practice)
_LOW_RISK: Final = (Fraction("0.75"), Fraction("0.80"))


def drifts(sides: DriftSides) -> Iterator[Drift]:
    """Measure both; a water activity that is not known on a side is not compared."""
    terms = Terms(sides.conditions.day)
    was, now = (water_activity(sums, terms).value for sums in sides.sums)
    if was is not None and now is not None and was != now:
        words = f"water activity {float(was):.3f} {ARROW} {float(now):.3f} (estimates)"
        across = [line for line in _LOW_RISK if (was > line) != (now > line)]
        if across:
            yield Drift("water-activity", "", f"{words}, across {', '.join(map(short, across))}")
        else:
            yield Drift("water-activity", "", words, abs(now - was))
    before, after = map(_alcohol, sides.sums)
    if (before > _LINE) != (after > _LINE):
        yield Drift("alcohol", "", f"alcohol {short(before)} {ARROW} {short(after)} %, across 20 %")


def _alcohol(sums: Breakdown) -> Fraction:
    return sum((sums.substances.get(name, Fraction(0)) for name in _ALCOHOL), Fraction(0))
