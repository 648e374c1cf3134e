"""A merge in the three ways in which its conflicts could be settled: by ours, by the base, by theirs.

Where nothing clashes the three are the same, and that is the merge.  Where something does, what differs between them
is exactly the conflict, so each of the three is a whole file and the lines in which they differ get the markers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final, Generic, TypeVar

from formula_vcs.diff.change import GONE
from formula_vcs.diff.match import Matching
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.recipe import Charge
from formula_vcs.model.values import dataclass, field

# --- A merge in the three ways in which its conflicts could be settled: by ours, by the base, by theirs


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
        """The one of a version: ours, base or theirs."""
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


# --- Which charge of one version of a recipe is which of another: known by its place in the base, a new one by its
# own


# The identity of a charge: its phase and ingredient in the base, or, with a True behind, those of a new one.
Id = tuple[str, str, bool]
Key = tuple[str, str]

PLACE: Final[Path] = ("", "phase")
TAKEN_OUT: Final = "taken out on one side, while the other wrote something about it"
GRADE: Final[Path] = ("", "ingredient")


def is_charge(path: Path) -> bool:
    """Say whether a fact belongs to a charge."""
    return len(path) > 3 and path[0] == "phase" and path[2] == "charge"


def charge_anchor(name: Id) -> Path:
    """The name by which comments know a charge."""
    return ("phase", name[0], "new" if name[2] else "charge", name[1])


@dataclass
class MergeSide:
    """The charges of one version by identity, in the order of its file."""

    charges: dict[Id, Fields]
    ids: dict[Key, Id]
    gone: set[Id] = field(default_factory=set)

    def key(self, name: Id) -> Key | None:
        """The phase and ingredient that a charge has in this version."""
        fields = self.charges.get(name)
        return None if fields is None else (fields[PLACE], fields[GRADE])

    def named(self, text: str) -> Id | None:
        """The charge that a step calls so (``A/glycerin``); one taken out is still that of the base."""
        phase, _, name = text.partition("/")
        found = self.ids.get((phase, name))
        gone = phase, name, False
        return gone if found is None and gone in self.gone else found


def known(charge: Charge) -> Id:
    """The identity of a charge of the base."""
    return charge.phase, charge.ingredient, False


def ids_of(charges: Iterable[Charge], matching: Matching) -> dict[Key, Id]:
    """Say of each charge of a version which of the base it is, or that it is new."""
    found: dict[Key, Id] = {(after.phase, after.ingredient): known(before) for before, after in matching.same}
    for before, after in (*matching.split, *matching.joined):
        there = {charge.phase: charge for charge in after}
        found.update({(c.phase, c.ingredient): known(c) for c in before if c.phase in there})
    for charge in charges:
        found.setdefault((charge.phase, charge.ingredient), (charge.phase, charge.ingredient, True))
    return found


def side_of(facts: Facts, ids: dict[Key, Id]) -> MergeSide:
    """Read the charges of a version, whose identities are known."""
    found: dict[Id, dict[Path, Any]] = {}
    for path, value in facts.items():
        if is_charge(path):
            fields = found.setdefault(ids[path[1], path[3]], {PLACE: path[1], GRADE: path[3]})
            fields[path[4:]] = value
    return MergeSide(dict(found), ids)
