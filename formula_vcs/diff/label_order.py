"""What moved in the ingredient list, which changes did it, and how many places each of them brought.

A name moves where it passes another one; the names between only make room, and are not said.  The changes that did it
are found by trying.  Places are shared among them by Shapley's value as other figures are (`effects`).
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from contextlib import suppress
from fractions import Fraction
from typing import Final

from formula_vcs.diff.apply import moved
from formula_vcs.diff.counterfactuals import Chosen, Counterfactuals, TooMuchError, bears_on_label, smallest
from formula_vcs.diff.effects import Share
from formula_vcs.diff.shapley import MOST_EXACT, MOST_SHARED, attribute
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.ingredient_list import LabelLine
from formula_vcs.law.compliance import markets
from formula_vcs.law.labelling import ingredient_list
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.values import dataclass

MARKETS: Final = ("EU", "US")
_MOST_WORK: Final = 200_000  # facts and materials of the formulas whose list is worked out: a second or two
_MOST_NAMES: Final = 200  # the work grows with the square of it


@dataclass(frozen=True, slots=True)
class LabelMove:
    """One name of the list for a market: its place before and after, from 1; None where it came or went.

    ``part`` is the part of the list that it stands in now, or stood in: ordered, free (below the line at 1 %, where
    any order will do) or colorant.  ``only_free`` says that it only moved among those whose order is free, so a printed
    label stays right; ``crossed`` that it stood in another part before.  ``shares`` are in places, and add up to the
    difference.  More would have to be tried than anybody waits for where ``causes`` is None; there are no shares
    then, either.
    """

    name: str
    market: str
    before: int | None
    after: int | None
    part: str
    only_free: bool
    causes: tuple[str, ...] | None
    shares: tuple[Share, ...] = ()
    evened: str = ""
    crossed: bool = False


def market_of(formula: Formula) -> str:
    """Give the first market that a recipe names, or its workspace, and that has conventions of its own here."""
    named = formula.recipe.names["markets"] or formula.workspace.names["markets"]
    return next((market for market in named if market in MARKETS), MARKETS[0])


def lists_of_new_markets(
    old: Formula, new: Formula, day: datetime.date
) -> tuple[tuple[str, tuple[LabelLine, ...]], ...]:
    """Give the ingredient list for each market that is new and has conventions of its own here."""
    if old.recipe.is_premix or new.recipe.is_premix:
        return ()
    before, after = markets(old), markets(new)
    came = [market for market in after if market in MARKETS and market not in before]
    return tuple((market, ingredient_list(breakdown_of(new), day, market)) for market in came)


def label_moves(old: Formula, new: Formula, trials: Counterfactuals, day: datetime.date) -> tuple[LabelMove, ...]:
    """Give the names that came, went or passed others, in the order of the new list; what went comes last."""
    if old.recipe.is_premix or new.recipe.is_premix or len(trials.changes) > MOST_SHARED:
        return ()
    return _Lists(trials, market_of(new), day).moves()


def _passed(before: dict[str, tuple[int, LabelLine]], after: dict[str, tuple[int, LabelLine]]) -> list[str]:
    """Give the names that passed others: as few as can be, and of two that changed places the one whose amount moved.

    They are all but the heaviest run kept in order, where a name whose amount stayed weighs a little more.
    """
    shared = [name for name in after if name in before]
    if len(shared) > _MOST_NAMES:
        return moved(list(before), list(after))
    weights = [len(shared) + (before[name][1].pct == after[name][1].pct) for name in shared]
    best: list[tuple[int, int | None]] = []  # the weight of the best run that ends here, and the name before
    for index, name in enumerate(shared):
        earlier = ((best[i][0], -i) for i in range(index) if before[shared[i]][0] < before[name][0])
        weight, place = max(earlier, default=(0, 1))
        best.append((weight + weights[index], None if place > 0 else -place))
    at: int | None = max(range(len(shared)), key=lambda i: best[i][0], default=None)
    kept: set[str] = set()
    while at is not None:
        kept.add(shared[at])
        at = best[at][1]
    return [name for name in shared if name not in kept]


class _Lists:
    """The ingredient lists with some of the changes made."""

    def __init__(self, trials: Counterfactuals, market: str, day: datetime.date) -> None:
        self.trials = trials
        self.market = market
        self.day = day
        self._work = _MOST_WORK
        start = trials.formula(frozenset())
        size = len(start.recipe.facts) + len(start.ingredients) + 1
        self.most = min(MOST_EXACT, max(1, (_MOST_WORK * 3 // 4 // size).bit_length() - 1))
        self._known: dict[Chosen, dict[str, tuple[int, LabelLine]]] = {}

    def at(self, chosen: Chosen) -> dict[str, tuple[int, LabelLine]]:
        """Give the list by folded name: the place, from 1, and the line.

        :raises TooMuchError: all the work that may be done on one recipe is done.
        """
        if chosen not in self._known:
            formula = self.trials.formula(chosen)
            self._work -= len(formula.recipe.facts) + len(formula.ingredients)
            if self._work < 0:
                raise TooMuchError
            lines = ingredient_list(self.trials.sums(chosen), self.day, self.market)
            found: dict[str, tuple[int, LabelLine]] = {}
            for line in lines:
                found.setdefault(inci_key(line.inci), (len(found) + 1, line))
            self._known[chosen] = found
        return self._known[chosen]

    def moves(self) -> tuple[LabelMove, ...]:
        before, after = self.at(frozenset()), self.at(self.trials.everything)
        both = [name for name in after if name in before]
        passed = set(_passed(before, after))
        passed |= {name for name in both if (before[name][1].part == "ordered") != (after[name][1].part == "ordered")}
        here = [name for name in after if name in passed or name not in before]
        return tuple(self._move(name, both) for name in (*here, *(name for name in before if name not in after)))

    def _move(self, name: str, both: Sequence[str]) -> LabelMove:
        before, after = (self.at(side).get(name) for side in (frozenset(), self.trials.everything))
        line = (after or before or (0, LabelLine(name, Fraction(0), "free")))[1]
        parts = {side[1].part for side in (before, after) if side is not None}
        common = [other for other in both if other != name]
        causes: tuple[str, ...] | None = None
        shares: tuple[Share, ...] = ()
        evened = ""
        with suppress(TooMuchError):
            causes = self._causes(name, common)
            shares, evened = self._shares(name) if before is not None and after is not None else ((), "")
        free = before is not None and after is not None and parts == {"free"}
        return LabelMove(
            line.inci, self.market, None if before is None else before[0], None if after is None else after[0],
            line.part, free, causes, shares, evened, len(parts) > 1,
        )  # fmt: skip

    def _causes(self, name: str, common: Sequence[str] | None) -> tuple[str, ...]:
        stayed = name in self.at(frozenset()) and name in self.at(self.trials.everything)
        common = common if stayed else None  # of one that came or went it is asked only whether it is there
        wanted = self._stands(self.trials.everything, name, common)
        chosen = smallest(len(self.trials.changes), lambda some: self._stands(some, name, common) == wanted)
        return tuple(self.trials.changes[i].id for i in sorted(chosen))

    def _stands(self, chosen: Chosen, name: str, common: Sequence[str] | None) -> tuple[object, ...]:
        """Say where a name stands: whether it is there, above the line or not, and behind which of the others."""
        lines = self.at(chosen)
        if name not in lines:
            return ()
        if common is None:
            return ("there",)
        place, line = lines[name]
        behind = frozenset(other for other in common if other in lines and lines[other][0] < place)
        return line.part == "ordered", behind

    def _shares(self, name: str) -> tuple[tuple[Share, ...], str]:
        counting = [i for i, change in enumerate(self.trials.changes) if bears_on_label(change)]

        def worth(chosen: Chosen) -> Fraction | None:
            made = self.trials.everything if len(chosen) == len(counting) else {counting[i] for i in chosen}
            found = self.at(frozenset(made)).get(name)
            return None if found is None else Fraction(found[0])

        found = attribute(len(counting), worth, most=self.most)
        pairs = zip((self.trials.changes[i] for i in counting), found.values or [], strict=False)
        return tuple(Share(change.id, value) for change, value in pairs if value), found.evened
