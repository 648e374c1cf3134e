"""What would mend a finding that a number causes: the nearest number that keeps the rule, tried before it is said."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from math import ceil, floor
from typing import Final, NamedTuple

from formula_vcs.mending.knob import GAUGES, Knob, amount_knobs, gauge, range_knobs, turned, written
from formula_vcs.model.finding import SEVERITIES, Finding, Mend, Severity
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.rules.judge import judge
from formula_vcs.rules.registry import RULES
from formula_vcs.rules.rule import Case
from formula_vcs.words.numbers import shown

# --- The nearest number for which something holds that does not hold now


def nearest(holds: Callable[[int], bool], there: int, *, hint: int | None = None) -> int | None:
    """Give the smallest count of steps, from 1 to ``there``, for which something holds; None where it never seems to.

    Exact where it holds for one unbroken stretch of counts, and that is a stretch that is met: by a hint, or by
    looking ever farther away.  What is given was tried, and so was the count before it: there it does not hold.
    """
    known: dict[int, bool] = {0: False}

    def tried(count: int) -> bool:
        if count not in known:
            known[count] = holds(count)
        return known[count]

    for count in _looked_at(there, hint):
        if tried(count):
            low = max(other for other, kept in known.items() if other < count and not kept)
            high = min(other for other, kept in known.items() if other > low and kept)
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (low, middle) if tried(middle) else (middle, high)
            return high
    return None


def _looked_at(there: int, hint: int | None) -> Iterator[int]:
    """Look beside the hint, then ever farther away, at the end last."""
    if hint is not None and 0 < hint <= there:
        # the count before first: where it holds there, the hint was no edge
        for count in (hint - 1, hint, hint + 1):
            if 0 < count <= there:
                yield count
    step = 1
    while step < there:
        yield step
        step = 2 * step + 1
    if there > 0:
        yield there


# --- What would mend a finding that a number causes: the nearest number that keeps the rule, tried before it is said


# Rules that a number breaks, each with those that may take its place where a number is turned too far to be judged.
TURNS: Final[dict[str, tuple[str, ...]]] = {
    "limit": ("limit",),
    "limit-margin": ("limit-margin", "limit"),
    "claim-fails": ("claim-fails", "claim-information"),
    "bounds": ("bounds",),
    "balance-left": ("balance-left",),
    "total": ("total",),
    "temp-at-most": ("temp-at-most",),
    "add-below": ("add-below",),
    "set-point": ("set-point",),
    "rest": ("rest",),
    "shear-numbers": ("shear-numbers",),
    "equipment-range": ("equipment-range",),
    "ph-window": ("ph-window",),
    "preservative-window": ("preservative-window",),
    "free-acid": ("free-acid",),
    "vessel-fill": ("vessel-fill",),
}
_MOST_MENDED: Final = 6  # findings of one recipe
_MOST_CHARGES: Final = 3  # whose amounts are turned for one finding
_MOST_TURNED: Final = 300  # charges of a recipe that numbers are sought for; a formula has some forty
_SLOPE: Final = 16  # steps over which it is seen how much an amount does


def mended(
    findings: Iterable[Finding],
    formula: Formula,
    day: datetime.date,
    *,
    among: Sequence[Finding] | None = None,
    severities: Sequence[Severity] = ("block", "warn"),
) -> list[Finding]:
    """Give findings, each with the nearest number that would mend it, where there is one.

    ``among`` is all that was said of the formula, where the findings are only some of it: what a number breaks anew is
    told by that.  Of one recipe the worst few are looked at.
    """
    found = list(findings)
    turning = [finding for finding in found if finding.severity in severities and mendable(finding, formula)]
    if not turning or len(formula.recipe.charges) > _MOST_TURNED:
        return found
    order = list(TURNS)
    turning.sort(key=lambda one: (SEVERITIES.index(one.severity), order.index(one.rule)))
    turning = turning[:_MOST_MENDED]
    search = _NumberSearch(formula, day, found if among is None else among)
    mends = {id(finding): search.mend(finding) for finding in turning}
    return [replace(one, mend=mends[id(one)]) if mends.get(id(one)) is not None else one for one in found]


def mendable(finding: Finding, formula: Formula) -> bool:
    """Say whether a finding is of a rule that a number of this recipe breaks."""
    return finding.rule in TURNS and finding.severity != "note" and finding.file == formula.recipe.file


class _MendTrial(NamedTuple):
    """One formula judged by a few rules: whether the finding stands there, and how far it is from being gone."""

    stands: bool
    gauge: Fraction | None


class _NumberSearch:
    def __init__(self, formula: Formula, day: datetime.date, before: Sequence[Finding]) -> None:
        self._formula = formula
        self._day = day
        self._before = _ranks(before)
        self._amounts = list(amount_knobs(formula))

    def mend(self, finding: Finding) -> Mend | None:
        """Give the nearest number that keeps the rule; of several, that which moves least."""
        now = self._trial(self._formula, finding)
        if not now.stands:
            return None
        best: tuple[Fraction, Mend] | None = None
        for knob in self._knobs(finding, now):
            found = self._turned(knob, finding, now)
            if found is not None and (best is None or found[0] < best[0]):
                best = found
            if best is not None and knob.path == finding.at[:4]:
                break  # the charge that the finding is at
        return None if best is None else best[1]

    def _trial(self, formula: Formula, finding: Finding) -> _MendTrial:
        case = Case(formula, self._day)
        mark = finding.fingerprint
        raised = judge(formula, self._day, None, [RULES[name] for name in TURNS[finding.rule]], case=case)
        stands = any(
            one.severity != "note" and (one.fingerprint == mark or one.subject == finding.subject) for one in raised
        )
        return _MendTrial(stands, gauge(case, finding) if finding.rule in GAUGES else None)

    def _knobs(self, finding: Finding, now: _MendTrial) -> list[Knob]:
        if finding.rule == "vessel-fill":
            return list(range_knobs(self._formula.recipe, ("batch",)))
        if finding.rule not in GAUGES:
            return list(
                range_knobs(self._formula.recipe, finding.at[:3] if finding.at[:1] == ("step",) else finding.at)
            )
        if finding.rule == "total":
            # it is the total itself that is to move
            largest = max(self._amounts, key=lambda knob: knob.value, default=None)
            return [] if largest is None else [replace(largest, rest=None)]
        own = [knob for knob in self._amounts if knob.path == finding.at[:4]]
        if now.gauge is None:
            return own
        pulls = [(pull, knob) for knob in self._amounts if (pull := self._pull(knob, finding, now.gauge)) is not None]
        # the least movement first; of equals, the largest charge moves least of itself
        ranked = [knob for _, knob in sorted(pulls, key=lambda pair: (pair[0], -pair[1].value))]
        return (own + [knob for knob in ranked if knob not in own])[:_MOST_CHARGES]

    def _pull(self, knob: Knob, finding: Finding, over: Fraction) -> Fraction | None:
        """Say about how far an amount would have to move; None where it does nothing, or cannot move so far."""
        slope = self._slope(knob, finding, over)
        if not slope:
            return None
        move = -over / slope
        return abs(move) if knob.least < knob.value + move <= knob.most else None

    def _slope(self, knob: Knob, finding: Finding, over: Fraction) -> Fraction | None:
        step = knob.step * _SLOPE
        step = -step if knob.value - step >= knob.least else step
        other = self._trial(turned(self._formula, knob, knob.value + step), finding).gauge
        return None if other is None else (other - over) / step

    def _turned(self, knob: Knob, finding: Finding, now: _MendTrial) -> tuple[Fraction, Mend] | None:
        """Turn a number down and up; give how far it moves, and what to say."""
        slope = None if now.gauge is None else self._slope(knob, finding, now.gauge)
        target = None if not slope or now.gauge is None else (knob.value - now.gauge / slope) / knob.step
        found: list[tuple[Fraction, int, int]] = []
        for way in (-1, 1):
            if slope and now.gauge is not None and (slope * way > 0) == (now.gauge >= 0):
                continue  # that way it only gets worse
            start = ceil(knob.value / knob.step) if way < 0 else floor(knob.value / knob.step)
            end = floor(knob.most / knob.step) if way > 0 else ceil(knob.least / knob.step) + 1
            hint = None if target is None else (start - floor(target) if way < 0 else ceil(target) - start)
            count = nearest(partial(self._holds_from, knob, finding, start, way), abs(end - start), hint=hint)
            if count is not None:
                place = start + way * count
                found.append((abs(knob.at(place) - knob.value), place, way))
        for moved, place, way in sorted(found):
            mend = self._said(knob, finding, place, way)
            if mend is not None:
                return moved, mend
        return None

    def _holds_from(self, knob: Knob, finding: Finding, start: int, way: int, count: int) -> bool:
        return self._holds(knob, finding, start + way * count)

    def _holds(self, knob: Knob, finding: Finding, place: int) -> bool:
        if not knob.least < knob.at(place) <= knob.most:
            return False
        return not self._trial(turned(self._formula, knob, knob.at(place)), finding).stands

    def _said(self, knob: Knob, finding: Finding, place: int, way: int) -> Mend | None:
        """Judge the mended formula by all rules; None where it blocks where it did not."""
        to = knob.at(place)
        after = judge(turned(self._formula, knob, to), self._day)
        ranks = {mark: rank for mark, rank in _ranks(after).items() if rank < SEVERITIES.index("note")}
        worse = [mark for mark, rank in ranks.items() if rank < self._before.get(mark, len(SEVERITIES))]
        if finding.fingerprint in ranks or any(ranks[mark] == 0 for mark in worse):
            return None
        rules = sorted({one.rule for one in after if one.fingerprint in worse})
        only = not self._holds(knob, finding, place + way)
        words = _words(knob, finding, to, only=only)
        if rules:
            words += f"; then {' and '.join(rules)} {'warns' if len(rules) == 1 else 'warn'}"
        return Mend(words, knob.path, knob.end, written(replace(knob, unit=""), to), knob.unit)


def _ranks(findings: Iterable[Finding]) -> dict[str, int]:
    """Give how bad the worst finding of each fingerprint is."""
    found: dict[str, int] = {}
    for one in findings:
        rank = SEVERITIES.index(one.severity)
        found[one.fingerprint] = min(rank, found.get(one.fingerprint, rank))
    return found


def _words(knob: Knob, finding: Finding, to: Fraction, *, only: bool) -> str:
    number, less = written(knob, to), to < knob.value
    if knob.end != "amount":
        bound = "" if only or knob.end == "one" else "at most " if less else "at least "
        return f"{bound}{number} as {knob.name} {_keeps(finding)}, {written(knob, knob.value)} now"
    change = f"{shown(abs(to - knob.value))} {knob.unit}"
    rest = "" if knob.rest is None else f"; {knob.rest.ingredient} {'takes the rest' if less else 'gives way'}"
    if less or only:
        bound = "exactly " if only else "at most "
        return f"{bound}{number} of {knob.name} {_keeps(finding)}, {change} {'less' if less else 'more'} than now{rest}"
    return f"{change} more {knob.name} {_reaches(finding)}: {number}{rest}"


def _keeps(finding: Finding) -> str:
    return "keeps the claim" if finding.rule == "claim-fails" else "fits"


def _reaches(finding: Finding) -> str:
    return f"reaches '{finding.subject}'" if finding.rule == "claim-fails" else "is enough"
