"""A merge in the three ways in which its conflicts could be settled: by ours, by the base, by theirs.

Where nothing clashes the three are the same, and that is the merge.  Where something does, what differs between them
is exactly the conflict, so each of the three is a whole file and the lines in which they differ get the markers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, Generic, TypeVar

from formula_vcs.diff.change import GONE
from formula_vcs.model.facts import Path
from formula_vcs.model.values import dataclass

T = TypeVar("T")

OURS: Final = "ours"
BASE: Final = "base"
THEIRS: Final = "theirs"
WAYS: Final = (OURS, BASE, THEIRS)


@dataclass(frozen=True, slots=True)
class ThreeWay(Generic[T]):
    """One thing in the three versions, or in the three ways of a merge."""

    ours: T
    base: T
    theirs: T

    def way(self, name: str) -> T:
        """Give the one of a version: ours, base or theirs."""
        found: T = getattr(self, name)
        return found

    @property
    def agreed(self) -> bool:
        """Say whether ours and theirs are the same."""
        return self.ours == self.theirs


@dataclass(frozen=True, slots=True)
class Clash:
    """Something that both sides changed and only a person can settle: where, and why in words."""

    where: str
    words: str


def settle(versions: ThreeWay[Any]) -> ThreeWay[Any]:
    """Take what one side changed; where both did, and differently, each way keeps its own."""
    if versions.theirs in (versions.ours, versions.base):
        return ThreeWay(versions.ours, versions.ours, versions.ours)
    if versions.ours == versions.base:
        return ThreeWay(versions.theirs, versions.theirs, versions.theirs)
    return versions


Fields = Mapping[Path, Any]


def settle_entity(
    versions: ThreeWay[Fields | None],
    special: Callable[[Path, ThreeWay[Any]], ThreeWay[Any]] = lambda _, field: settle(field),
) -> tuple[ThreeWay[Fields | None], list[Path]]:
    """Merge something with fields, field by field; None is a version that does not have it.

    ``special`` settles one field of a name.

    Gives the three ways and the fields that clash: one field ``()`` stands for all of it.  Deleting against changing
    is a clash of the whole, and so is the same thing added twice, unless the two are the same.
    """
    ours, base, theirs = versions.ours, versions.base, versions.theirs
    if ours is None or theirs is None or base is None:
        settled = settle(versions)
        return settled, [] if settled.agreed else [()]
    ways: ThreeWay[dict[Path, Any]] = ThreeWay({}, {}, {})
    clashing: list[Path] = []
    for name in dict.fromkeys((*ours, *theirs)):
        field = special(name, ThreeWay(*(side.get(name, GONE) for side in (ours, base, theirs))))
        if not field.agreed:
            clashing.append(name)
        for way in WAYS:
            if field.way(way) is not GONE:
                ways.way(way)[name] = field.way(way)
    return ThreeWay(ways.ours, ways.base, ways.theirs), clashing
