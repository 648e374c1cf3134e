"""When a figure of a recipe crossed a line: the version, the change that did it, and whether it came back."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.diff.change import Change
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.figure import Figure, Terms
from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.history.blame import makers
from formula_vcs.history.version_of_recipe import Version
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass

# What may be spent on one crossing, in facts of the recipes that are tried: a second or two.
_WORK: Final = 1_000_000
_LEAST_TRIED: Final = 20


@dataclass(frozen=True, slots=True)
class Threshold:
    """What a figure must not cross: past it is below, or above; exactly on it is not past it."""

    figure: str
    below: bool
    value: Fraction

    def past(self, value: Fraction | None) -> bool | None:
        """Say whether a value lies past the line; None where there is no value."""
        if value is None:
            return None
        return value < self.value if self.below else value > self.value


@dataclass(frozen=True, slots=True)
class Doer:
    """A change that took the figure over the line, what it brought of the difference, and the version that made it."""

    change: Change
    share: Fraction | None
    version: Version


@dataclass(frozen=True, slots=True)
class Crossing:
    """A version at which the figure crossed the line; ``back`` where it came back over it.

    ``doers`` are a smallest set of its changes that suffices; ``smallest`` is false where there were too many changes
    to look for it, and the set just suffices.  It is empty where the recipe began past the line
    (``before`` is None then), and where no change did it but the calendar: a price stated earlier came into force
    (``calendar``).
    """

    version: Version
    back: bool
    before: Figure | None
    after: Figure
    doers: tuple[Doer, ...] = ()
    calendar: bool = False
    smallest: bool = True


TermsAt = Callable[[Version], Terms]


def terms_at(day: datetime.date | None) -> TermsAt:
    """Give what figures of a version depend on: the prices of its commit's day, or of one day for all."""

    def at(version: Version) -> Terms:
        return Terms(day or day_of(version))

    return at


def day_of(version: Version) -> datetime.date:
    """Give the author's day of a commit; one that is no date (a damaged commit has any) is the first day of 1970."""
    try:
        return datetime.date.fromisoformat(version.commit.day)
    except ValueError:
        return datetime.date(1970, 1, 1)


def figure_of(formula: Formula, name: str, terms: Terms) -> Figure:
    """Work out one figure."""
    return FIGURES[name](breakdown_of(formula), terms)


def crossings(versions: Sequence[Version], line: Threshold, terms: TermsAt) -> list[Crossing]:
    """Give every crossing, in the order of the versions (oldest first)."""
    sides = _Sides(line, terms)
    found: list[Crossing] = []
    for version in versions:
        after = sides.figure(version)
        past = None if after is None or not version.there else line.past(after.value)
        if after is None or past is None:
            continue
        older = [side for side in version.parents if side.formula is not None] if version.against else []
        if not older:
            if past:
                found.append(Crossing(version, back=False, before=None, after=after))
        elif all((sides.past(side) or False) != past for side in older):
            before = sides.figure(older[0])
            found.append(_crossing(version, before, after, line, terms(version)))
    return found


class _Sides:
    """On which side of a line each version lies; one whose figure is not known lies where the one before it did."""

    def __init__(self, line: Threshold, terms: TermsAt) -> None:
        self._line = line
        self._terms = terms
        self._figures: dict[int, Figure] = {}

    def figure(self, version: Version) -> Figure | None:
        if version.formula is None:
            return None
        if id(version) not in self._figures:
            self._figures[id(version)] = figure_of(version.formula, self._line.figure, self._terms(version))
        return self._figures[id(version)]

    def past(self, version: Version) -> bool | None:
        current: Version | None = version
        while current is not None:
            figure = self.figure(current)
            past = None if figure is None else self._line.past(figure.value)
            if past is not None:
                return past
            current = current.parents[0] if current.parents else None
        return None


def _crossing(version: Version, before: Figure | None, after: Figure, line: Threshold, terms: Terms) -> Crossing:
    past = bool(line.past(after.value))
    old, new, changes = version.before, version.formula, version.against[0]
    if old is None or new is None:
        return Crossing(version, not past, before, after)
    today = figure_of(old, line.figure, terms)
    if line.past(today.value) == past:
        return Crossing(version, not past, before, after, calendar=True)
    from formula_vcs.diff.counterfactuals import Counterfactuals, smallest
    from formula_vcs.diff.effects import effects

    trials = Counterfactuals(old, changes, new)
    tries = max(_LEAST_TRIED, _WORK // (len(old.recipe.facts) + len(new.recipe.facts) + 1))

    def crossed(chosen: frozenset[int]) -> bool:
        nonlocal tries
        tries -= 1
        return tries >= 0 and line.past(figure_of(trials.formula(chosen), line.figure, terms).value) == past

    needed = [trials.changes[i] for i in sorted(smallest(len(trials.changes), crossed))]
    moved = effects(old, new, changes, terms, (line.figure,))
    shares = {share.change: share.value for effect in moved for share in effect.shares}
    owners = makers(version, needed)
    doers = [Doer(change, shares.get(change.id), owners[change.id]) for change in needed]
    doers.sort(key=lambda doer: -abs(doer.share or Fraction(0)))
    return Crossing(version, not past, before, after, tuple(doers), smallest=tries >= 0)
