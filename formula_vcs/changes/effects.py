"""How much each change brought of each figure's difference.  The shares add up to the difference, exactly.

The share of a change is its Shapley value: what it adds, averaged over all orders in which the changes could have
been made.  For a sum of quantity times property that is Bennet's decomposition (J. R. Stat. Soc. 83 (1920) 455),
and then the mean of "this change first" and "this change last" is already exact, at two evaluations a change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import factorial
from typing import TYPE_CHECKING, Final

from formula_vcs.changes.change import Change
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.sums import sums_of
from formula_vcs.figures.table import BILINEAR, FIGURES, figures
from formula_vcs.model.formula import Formula

if TYPE_CHECKING:
    from formula_vcs.changes.trials import Trials

MOST_EXACT: Final = 10
MOST_SHARED: Final = 500  # two formulas a change are worked out: of thousands nobody waits for the shares
MOST_WORK: Final = 100_000  # changes times facts of the recipe: likewise of a hundred in a recipe of thousands of lines
Worth = Callable[[frozenset[int]], Fraction | None]


@dataclass(frozen=True, slots=True)
class Share:
    """What one change brought, in the figure's unit."""

    change: str
    value: Fraction


@dataclass(frozen=True, slots=True)
class Effect:
    """A figure before and after.  ``shares`` is empty where the figure is not known on both sides.

    ``grouped`` says that there were too many changes for every order, so the shares were evened out.
    """

    figure: str
    before: Figure
    after: Figure
    shares: tuple[Share, ...] = ()
    grouped: bool = False

    @property
    def difference(self) -> Fraction | None:
        """Give after less before, where both are known."""
        if self.before.value is None or self.after.value is None:
            return None
        return self.after.value - self.before.value


def effects(
    old: Formula,
    new: Formula,
    changes: Sequence[Change],
    terms: Terms,
    names: Iterable[str] = FIGURES,
    *,
    trials: Trials | None = None,
) -> list[Effect]:
    """Give the figures that differ, each with the shares of the changes; ``trials`` keeps what others tried."""
    names = tuple(names)
    before, after = figures(sums_of(old), terms, names), figures(sums_of(new), terms, names)
    moved = [name for name in names if _differs(before[name], after[name])]
    if not moved:
        return []
    real = [change for change in changes if not change.derived]
    if len(real) > MOST_SHARED or len(real) * max(len(old.recipe.facts), len(new.recipe.facts)) > MOST_WORK:
        real = []
    from formula_vcs.changes.trials import Trials  # it judges, and who only shares out has no use for all the rules

    tried = trials if trials is not None and trials.changes == real else Trials(old, real, new)
    worth = _Worth(tried, terms, (before, after))
    linear = BILINEAR if _quantities_are_linear(old, new, real) else frozenset()
    return [_effect(name, (before[name], after[name]), real, worth, bilinear=name in linear) for name in moved]


def _quantities_are_linear(old: Formula, new: Formula, changes: Sequence[Change]) -> bool:
    """Say whether each change moves the materials' shares by itself, whatever other changes are made.

    Then a sum of quantity times property has no terms of third order.  It is not so where the inside of a premix
    changes along with its amount, where another charge becomes the balance, and on the real sum of a book's parts.
    """
    percent = old.recipe.amounts == new.recipe.amounts == "percent"
    balances = [{charge.ingredient for charge in side.recipe.charges if charge.balance} for side in (old, new)]
    inside = any(change.kind == "premix" or change.where.endswith("/recipe") for change in changes)
    return percent and balances[0] == balances[1] and not inside


def _differs(before: Figure, after: Figure) -> bool:
    return before.value != after.value or before.unit != after.unit


def _effect(
    name: str, ends: tuple[Figure, Figure], changes: Sequence[Change], worth: _Worth, *, bilinear: bool
) -> Effect:
    before, after = ends
    if before.value is None or after.value is None or before.unit != after.unit or not changes:
        return Effect(name, before, after)

    def of(chosen: frozenset[int]) -> Fraction | None:
        return worth(name, chosen)

    values, grouped = attribute(len(changes), of, bilinear=bilinear)
    if values is None:
        return Effect(name, before, after)
    shares = tuple(Share(change.id, value) for change, value in zip(changes, values, strict=True) if value)
    return Effect(name, before, after, shares, grouped)


class _Worth:
    """The figures with some of the changes made, each subset worked out once."""

    def __init__(self, trials: Trials, terms: Terms, ends: tuple[dict[str, Figure], dict[str, Figure]]) -> None:
        before, after = ends
        self._trials = trials
        self._terms = terms
        self._known: dict[tuple[str, frozenset[int]], Fraction | None] = {}
        for name, figure in before.items():
            self._known[name, frozenset()] = figure.value
            if trials.changes:
                self._known[name, trials.everything] = after[name].value

    def __call__(self, name: str, chosen: frozenset[int]) -> Fraction | None:
        if (name, chosen) not in self._known:
            self._known[name, chosen] = FIGURES[name](self._trials.sums(chosen), self._terms).value
        return self._known[name, chosen]


def attribute(count: int, worth: Worth, *, bilinear: bool) -> tuple[list[Fraction] | None, bool]:
    """Share worth(all) - worth(none) among ``count`` changes.

    Gives the shares, or None where an end has no worth, and whether they are evened out rather than exact averages
    over all orders.  Changes that give the figure no worth one without the other (a currency and its prices) share
    evenly what the rest leaves.
    """
    everything = frozenset(range(count))
    start, end = worth(frozenset()), worth(everything)
    ends = [_two_ends(i, everything, worth) for i in range(count)]
    if start is None or end is None:
        return None, False
    known = [value or Fraction(0) for value in ends]
    rest = end - start - sum(known, Fraction(0))
    entangled = [i for i, value in enumerate(ends) if value is None]
    if entangled:
        return _evened(known, entangled, rest), True
    if rest == 0 and (bilinear or count <= 2):
        return known, False
    active = [i for i in range(count) if _matters(i, everything, worth)]
    if worth(frozenset(active)) != end:
        active = list(everything)  # some count only together: none may be left out
    values = _shapley(active, worth) if len(active) <= MOST_EXACT else None
    if values is None:
        return _evened(known, active, rest), True
    return [values.get(i, Fraction(0)) for i in range(count)], False


def _two_ends(i: int, everything: frozenset[int], worth: Worth) -> Fraction | None:
    first, start = worth(frozenset({i})), worth(frozenset())
    end, last = worth(everything), worth(everything - {i})
    if first is None or start is None or end is None or last is None:
        return None
    return (first - start + end - last) / 2


def _matters(i: int, everything: frozenset[int], worth: Worth) -> bool:
    """Say whether a change moves the figure when made first, or when made last."""
    return worth(frozenset({i})) != worth(frozenset()) or worth(everything) != worth(everything - {i})


def _shapley(players: list[int], worth: Worth) -> dict[int, Fraction] | None:
    """Average over all orders of the changes that matter (the others have no part in any of them)."""
    count = len(players)
    values = dict.fromkeys(players, Fraction(0))
    for size in range(count):
        weight = Fraction(factorial(size) * factorial(count - size - 1), factorial(count))
        for chosen in combinations(players, size):
            base = worth(frozenset(chosen))
            if base is None:
                return None
            for player in players:
                if player not in chosen:
                    more = worth(frozenset((*chosen, player)))
                    if more is None:
                        return None
                    values[player] += weight * (more - base)
    return values


def _evened(known: list[Fraction], active: list[int], rest: Fraction) -> list[Fraction]:
    values = list(known)
    for i in active:
        values[i] += rest / len(active)
    return values
