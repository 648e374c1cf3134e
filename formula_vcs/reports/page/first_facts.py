"""What a reader of a review wants to know first of each recipe: cost, what is nearest to a limit, label, duties."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.reports import figure_words, review_document
from formula_vcs.reports.page.gauges import Gauge, gauges
from formula_vcs.review.compare import Review
from formula_vcs.words.numbers import rounded

MOST_NEAR: Final = 2
_FAR: Final = Fraction(10**9)


class CostMove(NamedTuple):
    """The cost of 1 kg before and now as texts, and the difference in % of it, None where there was no cost."""

    before: str
    now: str
    unit: str
    relative: Fraction | None


class FirstFacts(NamedTuple):
    """The facts of one recipe; what is not known is None or empty."""

    cost: CostMove | None
    cost_unknown: bool
    near: tuple[Gauge, ...]
    came: tuple[str, ...]
    went: tuple[str, ...]
    moved: int


def first_facts(review: Review, *, measured: bool = True) -> FirstFacts:
    """Gather them; without ``measured`` nothing is held against limits, which takes longest."""
    effect = next((one for one in review.effects if one.figure == "cost_per_kg"), None)
    near = _near(review) if measured else ()
    came = tuple(move.name for move in review.label if move.before is None)
    went = tuple(move.name for move in review.label if move.after is None)
    others = sum(move.before is not None and move.after is not None and not move.only_free for move in review.label)
    if effect is None:
        return FirstFacts(None, False, near, came, went, others)
    before, after = (review_document.at(effect, side) for side in (effect.before, effect.after))
    if before is None or after is None or effect.before.unit != effect.after.unit:
        return FirstFacts(None, True, near, came, went, others)
    old, new = effect.before.value, effect.after.value
    relative = (new - old) / old * 100 if old and new is not None else None
    return FirstFacts(
        CostMove(f"{before:f}", f"{after:f}", effect.after.unit, relative), False, near, came, went, others
    )


def _near(review: Review) -> tuple[Gauge, ...]:
    """Give what is broken, and what is nearest to its limit among what moved; else the nearest of all."""
    if review.sides is None or review.status == "removed":
        return ()
    found = [gauge for gauge in gauges(review.sides) if gauge.after is not None]
    told = [gauge for gauge in found if gauge.moved or gauge.css == "bad"] or found[:]
    return tuple(sorted(told, key=lambda gauge: (gauge.css != "bad", margin(gauge)))[:MOST_NEAR])


def margin(gauge: Gauge) -> Fraction:
    """Give how far a number is from its limit, as a part of it; below nothing where it is over."""
    value, low, high = gauge.after, gauge.low, gauge.high
    if value is None:
        return _FAR
    sides = []
    if high is not None:
        sides.append((high - value) / (high - low if low is not None and high > low else high or 1))
    if low is not None:
        sides.append((value - low) / (high - low if high is not None and high > low else low or 1))
    return min(sides, default=_FAR)


def used(gauge: Gauge) -> str:
    """Write how much of a limit is used, or how far a minimum is passed: "98 % of at most 1.00 %"."""
    return f"{gauge.name} {gauge.said[1]} ({gauge.said[2]}: {gauge.state})"


def percent(value: Fraction | None) -> str:
    """Write a relative difference with its sign: +1.0 %.

    >>> percent(Fraction(1, 3)), percent(Fraction(0)), percent(None)
    ('+0.3 %', '0.0 %', 'was nothing')
    """
    if value is None:
        return "was nothing"
    shown = rounded(value, 1)
    if not shown and value:
        return "less than 0.1 %"
    return f"{figure_words.sign(shown)} %" if shown else "0.0 %"


def cost_words(move: CostMove) -> str:
    """Say the cost: before, now, and the difference in % of it."""
    return f"{move.before} {review_document.ARROW} {move.now} {move.unit}, {percent(move.relative)}"


def label_words(facts: FirstFacts) -> str:
    """Say what happens to the ingredient list; empty where nothing does."""
    words = []
    if facts.came:
        words.append(f"comes in: {_names(facts.came)}")
    if facts.went:
        words.append(f"goes: {_names(facts.went)}")
    if facts.moved:
        words.append(f"{review_document.counted(facts.moved, 'name')} {'moves' if facts.moved == 1 else 'move'}")
    return "; ".join(words)


def _names(names: Sequence[str]) -> str:
    rest = len(names) - 4
    return ", ".join(names[:4]) + (f" and {rest} more" if rest > 0 else "")


def duties_by_owner(reviews: Sequence[Review]) -> dict[str, dict[str, int]]:
    """Give what has to follow, by who has to do it: each duty with the number of recipes that ask for it."""
    found: dict[str, dict[str, int]] = {}
    for review in reviews:
        for name, owner in dict.fromkeys((duty.duty, duty.owner) for duty in review.duties):
            mine = found.setdefault(owner, {})
            mine[name] = mine.get(name, 0) + 1
    return found
