"""The numbers of a step are ones that a process can have."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


class _Limit(NamedTuple):
    """The bounds that are usual, in words too, and those outside of which no process of the trade can be."""

    low: Fraction
    high: Fraction
    words: str
    least: Fraction
    most: Fraction


_DAY: Final = 86_400
_ZERO: Final = Fraction(0)
# wide on purpose: what lies outside of the outer bounds is a slip of the pen.  Between the two are milling in liquid
# nitrogen, a cure for years, a maceration for a season
_LIMITS: Final = {
    "temp": {
        "temperature": _Limit(
            Fraction("223.15"), Fraction("523.15"), "-50 to 250 degC", Fraction("73.15"), Fraction("673.15")
        )
    },
    "speed": {
        "speed": _Limit(_ZERO, Fraction(1000), "0 to 60,000 rpm", _ZERO, Fraction(2500)),
        "velocity": _Limit(_ZERO, Fraction(100), "0 to 100 m/s", _ZERO, Fraction(150)),
    },
    "time": {"time": _Limit(_ZERO, Fraction(30 * _DAY), "0 to 30 days", _ZERO, Fraction(3650 * _DAY))},
    "rest": {"time": _Limit(_ZERO, Fraction(365 * _DAY), "0 to 365 days", _ZERO, Fraction(3650 * _DAY))},
}


class StepValues(Rule):
    """A step's temperature, speed and time are ones that a process of the trade can have.

    Why: 720 degC for 72 and 30000 rpm for 3000 are one key too many, and a sheet that says so stops the factory.
    Outside of what is usual is a warning: -50 to 250 degC, up to 60,000 rpm or 100 m/s, 30 days of work, a year of
    rest.  Far outside of it is a block: -200 to 400 degC, 150,000 rpm or 150 m/s, ten years.
    """

    id = "step-values"
    source = COMMON_PRACTICE

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every number of every step with what can be."""
        for step in case.recipe.steps:
            for name, limits in _LIMITS.items():
                span = step.facts.get(name)
                if not isinstance(span, Range):
                    continue
                limit = limits[span.dimension]
                if all(limit.low <= end.base <= limit.high for end in _ends(span)):
                    continue
                far = any(not limit.least <= end.base <= limit.most for end in _ends(span))
                how = "cannot be meant" if far else "is outside of what is usual"
                words = f"step '{step.id}', {name}: {span} {how} ({limit.words})"
                severity: Severity = "block" if far else "warn"
                yield self.say(case, words, (*step.path, name), severity=severity, on_value=True)


def _ends(span: Range) -> Iterator[Quantity]:
    yield from (end for end in (span.low, span.high) if end is not None)
