"""How much each change brought of each figure's difference.  The shares add up to the difference, exactly.

The share of a change is its Shapley value: what it adds, averaged over all orders in which the changes could have
been made (`shapley`).  For a sum of quantity times property that is Bennet's decomposition (J. R. Stat. Soc. 83 (1920)
455), and then the mean of "this change first" and "this change last" is already exact, at two evaluations a change.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.diff.change import RECIPE, Change
from formula_vcs.diff.counterfactuals import Counterfactuals, bears_on_figure
from formula_vcs.diff.shapley import MOST_EXACT, MOST_SHARED, UNTRIED, attribute
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import BILINEAR, FIGURES, figures
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass

MOST_WORK: Final = 100_000  # changes times facts of the recipe: likewise of a hundred in a recipe of thousands of lines
_MOST_TRIED: Final = 300_000  # sets of changes times materials: what may be worked out to average over all orders


@dataclass(frozen=True, slots=True)
class Share:
    """What one change brought, in the figure's unit."""

    change: str
    value: Fraction


@dataclass(frozen=True, slots=True)
class Effect:
    """A figure before and after.  ``shares`` is empty where the figure is not known on both sides.

    ``evened`` says why shares are not the mean over all orders (`shapley.MANY`, TOGETHER), or why there are none
    although the figure is known on both sides and in between (UNTRIED).
    """

    figure: str
    before: Figure
    after: Figure
    shares: tuple[Share, ...] = ()
    evened: str = ""

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
    trials: Counterfactuals | None = None,
) -> list[Effect]:
    """Give the figures that differ, each with the shares of the changes; ``trials`` keeps what others tried."""
    names = tuple(names)
    before, after = figures(breakdown_of(old), terms, names), figures(breakdown_of(new), terms, names)
    moved = [name for name in names if _differs(before[name], after[name])]
    if not moved:
        return []
    real = [change for change in changes if not change.derived]
    if len(real) > MOST_SHARED or len(real) * max(len(old.recipe.facts), len(new.recipe.facts)) > MOST_WORK:
        return [Effect(name, before[name], after[name], evened=UNTRIED) for name in moved]
    tried = trials if trials is not None and trials.changes == real else Counterfactuals(old, real, new)
    size = max(len(side.recipe.charges) + len(side.ingredients) for side in (old, new))
    most = min(MOST_EXACT, max(1, (_MOST_TRIED // max(size, 1)).bit_length() - 1))
    linear = BILINEAR if _quantities_are_linear(old, new, real) else frozenset()
    found: list[Effect] = []
    for name in moved:
        counting = [i for i, change in enumerate(real) if bears_on_figure(change, name)]
        worth = _Worth(name, tried, terms, counting, (before[name], after[name]))
        bilinear = name in linear and (
            len(counting) > MOST_EXACT or _properties_are_linear((old, new), [real[i] for i in counting], name)
        )
        found.append(_effect(worth, [real[i] for i in counting], most, bilinear=bilinear))
    return found


def _quantities_are_linear(old: Formula, new: Formula, changes: Sequence[Change]) -> bool:
    """Say whether each change moves the materials' shares by itself, whatever other changes are made.

    Then a sum of quantity times property has no terms of third order.  It is not so where the inside of a premix
    changes along with its amount, where another charge becomes the balance, and on the real sum of a book's parts.
    """
    percent = old.recipe.amounts == new.recipe.amounts == "percent"
    balances = [{charge.ingredient for charge in side.recipe.charges if charge.balance} for side in (old, new)]
    inside = any(change.kind == "premix" or change.where.endswith("/recipe") for change in changes)
    recipes = (side for formula in (old, new) for side in (formula.recipe, *formula.premixes.values()))
    capped = any("rebuilds" in charge.more for recipe in recipes for charge in recipe.charges)
    return percent and balances[0] == balances[1] and not inside and not capped


def _properties_are_linear(sides: tuple[Formula, Formula], changes: Sequence[Change], name: str) -> bool:
    """Say whether each change moves a property by itself, whatever other changes are made.

    It is not so where two of them make one material's property, or where a price hangs on how much is bought.
    """
    owners = Counter(owner for change in changes for owner in {edit.owner for edit in change.edits} - {RECIPE})
    if any(count > 1 for count in owners.values()):
        return False
    priced = (price for side in sides for material in side.ingredients.values() for price in material.prices)
    return not (name.startswith("cost_") and any(price.least is not None for price in priced))


def _differs(before: Figure, after: Figure) -> bool:
    return before.value != after.value or before.unit != after.unit


def _effect(worth: _Worth, changes: Sequence[Change], most: int, *, bilinear: bool) -> Effect:
    before, after = worth.ends
    if before.value is None or after.value is None or before.unit != after.unit:
        return Effect(worth.name, before, after)
    found = attribute(len(changes), worth, bilinear=bilinear, most=most)
    pairs = zip(changes, found.values or [], strict=False)
    shares = tuple(Share(change.id, value) for change, value in pairs if value)
    return Effect(worth.name, before, after, shares, found.evened)


class _Worth:
    """One figure with some of the changes made that it may hang on, each set worked out once."""

    def __init__(
        self, name: str, trials: Counterfactuals, terms: Terms, counting: Sequence[int], ends: tuple[Figure, Figure]
    ) -> None:
        self.name = name
        self.ends = ends
        self._trials = trials
        self._terms = terms
        self._counting = counting
        self._known: dict[frozenset[int], Fraction | None] = {frozenset(): ends[0].value}
        if counting:
            self._known[frozenset(range(len(counting)))] = ends[1].value

    def __call__(self, chosen: frozenset[int]) -> Fraction | None:
        if chosen not in self._known:
            made = frozenset(self._counting[i] for i in chosen)
            self._known[chosen] = FIGURES[self.name](self._trials.sums(made), self._terms).value
        return self._known[chosen]
