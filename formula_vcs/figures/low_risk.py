"""Low microbiological risk by ISO 29621: which of its criteria a recipe meets.  One is enough.

A value exactly on a limit is said to be on the limit: whether the standard's limits include their value is for its
text to say.  An estimate of pH or water activity decides nothing; measure it.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.water_activity import water_activity
from formula_vcs.toml.package_data import load
from formula_vcs.words.numbers import ZERO_CELSIUS

MET: Final = "met"
NOT_MET: Final = "not met"
ON_LIMIT: Final = "on the limit"
UNKNOWN: Final = "not known"
_ETHANOL: Final = ("alcohol", "alcohol denat.", "ethanol")
_CHLOROHYDRATE: Final = "aluminum chlorohydrate"


class Flag(NamedTuple):
    """One criterion with its verdict (met, not met, on the limit, not known) and the numbers that it rests on."""

    criterion: str
    verdict: str
    because: str


def compared(value: Fraction | None, limit: Fraction, *, below: bool) -> str:
    """Compare a value with a limit that it should lie below, or above; on it is a verdict of its own."""
    if value is None:
        return UNKNOWN
    if value == limit:
        return ON_LIMIT
    return MET if (value < limit) == below else NOT_MET


def low_risk(sums: Breakdown, terms: Terms) -> tuple[Flag, ...]:
    """Judge every criterion that a recipe's data can be held against."""
    limits = {
        name: Fraction(str(value)) for name, value in load("low-risk").items() if name not in ("source", "verified")
    }
    pH = sums.formula.recipe.spec.get("pH")
    low, high = (None, None) if pH is None else (_base(pH.low), _base(pH.high))
    activity = water_activity(sums, terms).value
    water = sums.substances.get("aqua", Fraction(0))
    unknown = bool(sums.unnamed) or sums.composition.is_open
    ethanol = sum((sums.substances.get(name, Fraction(0)) for name in _ETHANOL), Fraction(0))
    phase = None if unknown or not water else ethanol / (water + ethanol) * 100
    chlorohydrate = None if unknown else sums.substances.get(_CHLOROHYDRATE, Fraction(0))
    filling = _filling(sums)
    return (
        Flag("pH below 3", compared(high, limits["pH_below"], below=True), f"spec pH to {_number(high)}"),
        Flag("pH above 10", compared(low, limits["pH_above"], below=False), f"spec pH from {_number(low)}"),
        Flag(
            "water activity below 0.75",
            compared(activity, limits["water_activity_below"], below=True),
            f"estimated {_number(activity)}" if activity is not None else "no estimate",
        ),
        Flag(
            "more than 20 % ethanol",
            compared(phase, limits["ethanol_above"], below=False),
            f"{_number(phase)} % w/w of water and ethanol",
        ),
        Flag(
            "more than 25 % aluminium chlorohydrate",
            compared(chlorohydrate, limits["chlorohydrate_above"], below=False),
            f"{_number(chlorohydrate)} %",
        ),
        Flag(
            "filled above 65 degC",
            compared(filling, limits["filling_above"], below=False),
            f"last step from {_number(filling)} degC",
        ),
        Flag("no water", UNKNOWN if unknown else MET if not water else NOT_MET, f"{_number(water)} % water"),
    )


def _base(end: object) -> Fraction | None:
    value = getattr(end, "base", None)
    return value if isinstance(value, Fraction) else None


def _number(value: Fraction | None) -> str:
    return "not known" if value is None else f"{float(value):.4g}"


def _filling(sums: Breakdown) -> Fraction | None:
    """The lowest temperature in degC of the last step, where it states one."""
    stages = sums.walk.stages
    warmth = stages[-1].warmth.get(stages[-1].vessel) if stages else None
    return None if warmth is None or warmth.low is None else warmth.low - ZERO_CELSIUS


def summary(flags: Iterable[Flag]) -> str:
    """Say in one line which criteria are met, and which lie on their limit."""
    found = list(flags)
    met = [flag.criterion for flag in found if flag.verdict == MET]
    edge = [flag.criterion for flag in found if flag.verdict == ON_LIMIT]
    words = [f"low risk by {', '.join(met)}"] if met else []
    words += [f"on the limit: {', '.join(edge)}"] if edge else []
    return "; ".join(words) or "no criterion of low risk is met: preservation is shown by a challenge test (ISO 11930)"
