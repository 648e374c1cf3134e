"""The numbers of a recipe that stand against a limit: of the law, of a claim, of its own spec; before and after."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.figures.standards import Mark
from formula_vcs.law.claims.table import judge_claims
from formula_vcs.law.compliance import Compliance, compliance_of
from formula_vcs.law.limit_use import ON, LimitUse, percent
from formula_vcs.model.quantity import Range
from formula_vcs.model.values import dataclass
from formula_vcs.reports import figure_words
from formula_vcs.reports.sheets import limits
from formula_vcs.review.compare import ReviewSides

# figures that a spec gives a range for: its name there, and base units in one unit of the figure
_SPECIFIED: Final = {"ph_estimate": ("pH", 1), "density": ("density", 1000)}
NOT_KNOWN: Final = "not known"


@dataclass(frozen=True, slots=True)
class Gauge:
    """One number against its limit.

    ``before`` and ``after`` are the numbers, None where a side has none; ``low`` and ``high`` the limit's ends;
    ``said`` writes the two numbers and the limit; ``state`` says in words where the number stands now, ``css`` how bad
    that is (good, warn, bad, note); ``source`` is where the limit comes from.
    """

    name: str
    before: Fraction | None
    after: Fraction | None
    low: Fraction | None
    high: Fraction | None
    said: tuple[str, str, str]
    state: str
    css: str
    source: str

    @property
    def moved(self) -> bool:
        """Say whether the number is another than it was."""
        return self.before != self.after


def gauges(sides: ReviewSides) -> list[Gauge]:
    """Give every number that stands against a limit now or did before, what is broken first, then what moved."""
    past, present = (breakdown_of(formula) for formula in (sides.past, sides.present))
    laws = compliance_of(past), compliance_of(present)
    found = [*_limits(laws, sides.terms.day), *_claims(laws, sides.terms.day), *_spec(past, present, sides.terms)]
    rank = {"bad": 0, "warn": 1}
    return sorted(found, key=lambda gauge: (rank.get(gauge.css, 2), not gauge.moved))


def _limits(laws: tuple[Compliance, Compliance], day: datetime.date) -> Iterator[Gauge]:
    was, now = ({(use.row.id, use.keys): use for use in limits(law, day)} for law in laws)
    for key in dict.fromkeys((*now, *was)):
        old, new = was.get(key), now.get(key)
        use = new or old
        if use is None or use.amount.unknown:
            continue
        law = laws[1] if new is not None else laws[0]
        names = " + ".join(law.spelled(name) for name in use.keys)
        as_what = f" as {use.row.basis}" if use.row.basis and use.row.basis.casefold() != names.casefold() else ""
        state, css = _gone(laws[1], use) if new is None else _standing(new)
        before, after = (None if side is None else side.amount.used for side in (old, new))
        yield Gauge(
            f"{names}{as_what}", before, after, None, use.allowed,
            (_pct(before, use.allowed), _now(after, use, state), f"at most {percent(use.allowed)}"),
            state, css, f"{law.a_product}, {use.row.citation}".removeprefix(", "),
        )  # fmt: skip


_UNJUDGED: Final = "not judged any more"


def _gone(present: Compliance, use: LimitUse) -> tuple[str, str]:
    """Say why a limit is none any more: what it is about is gone, or the product is under other rules now."""
    still = any(key in present.totals and present.totals[key].pct for key in use.keys)
    return (_UNJUDGED, "warn") if still else ("not in it any more", "good")


def _now(after: Fraction | None, use: LimitUse, state: str) -> str:
    return "not judged" if state == _UNJUDGED else _pct(after, use.allowed)


def _pct(value: Fraction | None, against: Fraction) -> str:
    return "none" if value is None else percent(value, against)


def _standing(use: LimitUse) -> tuple[str, str]:
    if use.state == "over":
        return "over the limit", "bad"
    if use.amount.adjusted > use.allowed:
        return "over with every adjustment made", "bad"
    if use.state == ON or use.amount.used == use.allowed:
        return ON, "warn"
    return ("over at the worst weighing", "warn") if use.amount.worst > use.allowed else ("inside", "good")


def _claims(laws: tuple[Compliance, Compliance], day: datetime.date) -> Iterator[Gauge]:
    was, now = (
        {(judged.claim, mark.what): mark for judged in judge_claims(law, day) for mark in judged.marks} for law in laws
    )
    for (claim, what), mark in now.items():
        old = was.get((claim, what))
        before, after = (None if side is None else side.value.value for side in (old, mark))
        words = [NOT_KNOWN if value is None else percent(value, mark.limit) for value in (before, after)]
        if old is None:
            words[0] = "not claimed"
        low, high = (mark.limit, None) if mark.least else (None, mark.limit)
        state, css = _kept(mark)
        yield Gauge(
            what, before, after, low, high,
            (words[0], words[1], f"{'at least' if mark.least else 'at most'} {percent(mark.limit)}"),
            state, css, f"claim '{claim}'",
        )  # fmt: skip


def _kept(mark: Mark) -> tuple[str, str]:
    sure, never = mark.value.low >= mark.limit, mark.value.high < mark.limit
    if not mark.least:
        sure, never = mark.value.high <= mark.limit, mark.value.low > mark.limit
    return ("kept", "good") if sure else ("missed", "bad") if never else ("needs information", "warn")


def _spec(past: Breakdown, present: Breakdown, terms: Terms) -> Iterator[Gauge]:
    for name, (called, scale) in _SPECIFIED.items():
        span = present.formula.recipe.spec.get(called)
        if span is None:
            continue
        figures = [FIGURES[name](sums, terms) for sums in (past, present)]
        before, after = (figure.value for figure in figures)
        if after is None:
            continue
        low, high = (None if end is None else end.base / scale for end in (span.low, span.high))
        unit = f" {figures[1].unit}".rstrip()
        said = [
            NOT_KNOWN if f.value is None else f"{figure_words.estimated(name, f.value, f.span)}{unit}" for f in figures
        ]
        state, css = _against(figures[1].span or (after, after), low, high)
        yield Gauge(
            f"{figure_words.called(name)} (estimate)", before, after, low, high, (said[0], said[1], _written(span)),
            state, css, "the recipe's spec",
        )  # fmt: skip


def _against(span: tuple[Fraction, Fraction], low: Fraction | None, high: Fraction | None) -> tuple[str, str]:
    """Say where an estimate, from and to, stands against a spec."""
    if (low is None or low <= span[0]) and (high is None or span[1] <= high):
        return "estimate inside the spec", "good"
    if (low is not None and span[1] < low) or (high is not None and high < span[0]):
        return "estimate outside the spec", "warn"
    return "estimate may be inside or outside the spec", "note"


def _written(span: Range) -> str:
    return f"spec {span}"
