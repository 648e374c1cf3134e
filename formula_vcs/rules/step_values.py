"""The numbers of a step are ones that a process can have."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.model.finding import Finding
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


class _Limit(NamedTuple):
    low: Fraction
    high: Fraction
    words: str


_DAY: Final = 86_400
# wide on purpose: what lies outside is a slip of the pen
_LIMITS: Final = {
    "temp": {"temperature": _Limit(Fraction("223.15"), Fraction("523.15"), "-50 to 250 degC")},
    "speed": {
        "speed": _Limit(Fraction(0), Fraction(1000), "0 to 60,000 rpm"),
        "velocity": _Limit(Fraction(0), Fraction(100), "0 to 100 m/s"),
    },
    "time": {"time": _Limit(Fraction(0), Fraction(30 * _DAY), "0 to 30 days")},
    "rest": {"time": _Limit(Fraction(0), Fraction(365 * _DAY), "0 to 365 days")},
}


class StepValues(Rule):
    """A step's temperature, speed and time are ones that a process of the trade can have.

    Why: 720 degC for 72 and 30000 rpm for 3000 are one key too many, and a sheet that says so stops the factory.
    The bounds are wide: -50 to 250 degC, up to 60,000 rpm or 100 m/s, 30 days of work, a year of rest.
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
                if any(not limit.low <= end.base <= limit.high for end in _ends(span)):
                    words = f"step '{step.id}', {name}: {span} cannot be meant ({limit.words})"
                    yield self.say(case, words, (*step.path, name), on_value=True)


def _ends(span: Range) -> Iterator[Quantity]:
    yield from (end for end in (span.low, span.high) if end is not None)
