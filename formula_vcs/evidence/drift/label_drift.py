"""What is printed: whether the list of ingredients that was printed may still stand, and the named allergens."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from formula_vcs.evidence.drift.drift import Drift, DriftSides
from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.figures.ingredient_list import LabelLine
from formula_vcs.law.compliance import compliance_of, in_force, markets
from formula_vcs.law.labelling import allergens, ingredient_list
from formula_vcs.model.formula import Formula

_KNOWN = ("EU", "US")
_MOST_NAMED = 4


def drifts(sides: DriftSides) -> Iterator[Drift]:
    """Compare the printed matter of each market that both versions are sold in."""
    if sides.new.recipe.is_premix:
        return
    for market in _markets(sides):
        printed, wanted = (ingredient_list(sums, sides.conditions.day, market) for sums in sides.sums)
        words = amiss(printed, wanted)
        if words:
            yield Drift("label", market, f"list of ingredients ({market}): {words}", detail=words)
        was, now = (_named(sums, sides, market) for sums in sides.sums)
        if was != now:
            more = [f"{'+' if name in now else chr(0x2212)}{name}" for name in sorted(was ^ now)]
            words = f"named allergens ({market}): {', '.join(more)}"
            yield Drift("allergens", market, words, detail=words)


def _markets(sides: DriftSides) -> Sequence[str]:
    sold = [set(_of(formula)) for formula in (sides.old, sides.new)]
    both = sold[0] & sold[1]
    only = sides.conditions.market
    return [market for market in sorted(both) if not only or market == only]


def _of(formula: Formula) -> tuple[str, ...]:
    return tuple(market for market in markets(formula) if market in _KNOWN) or _KNOWN[:1]


def _named(sums: Breakdown, sides: DriftSides, market: str) -> set[str]:
    found = compliance_of(breakdown_of(sums.formula), market)
    return {allergen.printed for allergen in allergens(found, in_force(found, sides.conditions.day)) if allergen.named}


def amiss(printed: Sequence[LabelLine], wanted: Sequence[LabelLine]) -> str:
    """Say why a printed list may not stand for what is in the product now, or nothing where it may.

    Names of less than 1 % may stand in any order behind the others, so a printed list outlives many changes.
    """
    now = {line.inci: line for line in wanted}
    before = [line.inci for line in printed]
    stood = frozenset(before)
    came = [name for name in now if name not in stood]
    went = [name for name in before if name not in now]
    if came or went:
        parts = [f"{verb} {_list(names)}" for verb, names in (("lacks", came), ("names in vain", went)) if names]
        return " and ".join(parts)
    order = [now[name] for name in before]
    ranks = [{"ordered": 0, "free": 1, "colorant": 2}[line.part] for line in order]
    amounts = [line.pct if line.part == "ordered" else Fraction(-1) for line in order]
    for position in range(1, len(order)):
        if ranks[position] < ranks[position - 1] or (
            ranks[position] == 0 and amounts[position] > amounts[position - 1]
        ):
            return f"{order[position].inci} has to stand before {order[position - 1].inci} now"
    return ""


def _list(names: Sequence[str]) -> str:
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return ", ".join(names[:_MOST_NAMED]) + more
