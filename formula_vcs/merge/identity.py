"""Which charge of one version of a recipe is which of another: known by its place in the base, a new one by its own."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from formula_vcs.diff.match import Matching
from formula_vcs.merge.three_way import Fields
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.recipe import Charge
from formula_vcs.model.values import dataclass, field

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
    """Give the name by which comments know a charge."""
    return ("phase", name[0], "new" if name[2] else "charge", name[1])


@dataclass
class MergeSide:
    """The charges of one version by identity, in the order of its file."""

    charges: dict[Id, Fields]
    ids: dict[Key, Id]
    gone: set[Id] = field(default_factory=set)

    def key(self, name: Id) -> Key | None:
        """Give the phase and ingredient that a charge has in this version."""
        fields = self.charges.get(name)
        return None if fields is None else (fields[PLACE], fields[GRADE])

    def named(self, text: str) -> Id | None:
        """Give the charge that a step calls so (``A/glycerin``); one taken out is still that of the base."""
        phase, _, name = text.partition("/")
        found = self.ids.get((phase, name))
        gone = phase, name, False
        return gone if found is None and gone in self.gone else found


def known(charge: Charge) -> Id:
    """Give the identity of a charge of the base."""
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
