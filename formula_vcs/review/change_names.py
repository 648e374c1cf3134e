"""The shortest name by which one change among many can be meant: the end of its place, its kind or recipe before it."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from typing import Final, NamedTuple

from formula_vcs.diff.change import Change
from formula_vcs.review.compare import OF_OTHERS, Comparison

_STRUCTURE: Final = frozenset({"phase", "charge", "step", "ingredient", "premix"})


class Named(NamedTuple):
    """A change under a recipe (empty beside them); ``key`` is the same where one change stands under several."""

    recipe: str
    change: Change
    key: Hashable


def short(where: str) -> str:
    """Leave out of a place what only says what kind of place it is: ``A/glycerin``."""
    return "/".join(part for part in where.split("/") if part not in _STRUCTURE)


def _ends(place: str) -> list[str]:
    parts = place.split("/")
    return ["/".join(parts[start:]) for start in range(len(parts))]


class ChangeNames:
    """The names of all changes of a comparison, each found once."""

    def __init__(self, found: Iterable[Named]) -> None:
        """Take the changes."""
        self._keys: dict[str, set[Hashable]] = {}
        self._recipes: set[str] = set()
        for one in found:
            self._recipes.add(one.recipe)
            where = one.change.where
            for end in dict.fromkeys((*_ends(where), *_ends(short(where)))):
                for name in (end, f"{one.change.kind}:{end}"):
                    for word in (name, f"{one.recipe}:{name}"):
                        self._keys.setdefault(word.casefold(), set()).add(one.key)

    def of(self, one: Named) -> str:
        """Give the shortest name that means this change alone and says what it is: a step with what of it."""
        names = list(_candidates(one))
        return next((name for name in names if self._is_its_own(name, one.key)), names[-1])

    def _is_its_own(self, name: str, key: Hashable) -> bool:
        return bool(name) and name not in self._recipes and self._keys.get(name.casefold()) == {key}


def _candidates(one: Named) -> Iterator[str]:
    where = one.change.where
    ends = _ends(short(where))
    least = 1 if where.startswith("phase/") else 2
    names = [*reversed(ends[: max(1, len(ends) - least + 1)]), where]
    names += [f"{one.change.kind}:{name}" for name in names]
    yield from names
    if one.recipe:
        yield from (f"{one.recipe}:{name}" for name in names)


def names_of(comparison: Comparison) -> dict[tuple[str, str], str]:
    """Give the names of what can be taken or left: by recipe (empty beside them) and the change's id."""
    found = [
        Named(review.recipe, change, change.id if change.where.startswith(OF_OTHERS) else (review.recipe, change.id))
        for review in comparison.reviews
        if review.status == "changed"
        for change in review.changes
        if not change.derived
    ]
    found += [Named("", change, change.id) for change in comparison.beside]
    names = ChangeNames(found)
    return {(one.recipe, one.change.id): names.of(one) for one in found}
