"""Which parts of a formula's meaning a change touches, named as they are called after it.

A facet is an owner (the recipe, a premix, an ingredient ...), a path of facts, and what of it: its value, or for a
charge its place or its grade, for a step its place in the order.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from formula_vcs.diff.change import RECIPE, Change, Edit, Move, Put, Whole
from formula_vcs.model.facts import Path

VALUE: Final = ""
PLACE: Final = "place"
GRADE: Final = "grade"
_CHARGE: Final = 4  # names in the path of a charge


class Facet(NamedTuple):
    """One part of the meaning of a formula."""

    owner: str
    path: Path
    what: str = VALUE


def touched(changes: Iterable[Change]) -> dict[Facet, Change]:
    """Give every facet that changes touch, as it is called after all of them, with the change that does it.

    Of a charge that moved, the steps that follow it are touched by the move.
    """
    real = [change for change in changes if not change.derived]
    forward = _moves(real)
    found: dict[Facet, Change] = {}
    for change in real:
        if change.kind == "header" and change.where == "id":
            found[Facet(RECIPE, ("id",))] = change
        for edit in change.edits:
            for facet in _facets(edit, forward):
                # where a move and an amount meet, each has its own facet; a step's own change outdoes a move's
                if not isinstance(edit, Move) or facet not in found:
                    found[facet] = change
    return found


def _facets(edit: Edit, forward: dict[tuple[str, Path], Path]) -> Iterator[Facet]:
    if isinstance(edit, Put):
        yield Facet(edit.owner, _renamed(edit.path, edit.owner, forward))
    elif isinstance(edit, Move):
        if edit.old[1] != edit.new[1]:
            yield Facet(edit.owner, edit.new, PLACE)
        if edit.old[3] != edit.new[3]:
            yield Facet(edit.owner, edit.new, GRADE)
        for step in edit.steps:
            yield Facet(edit.owner, ("step", step, "add"))
            yield Facet(edit.owner, ("step", step, "adjust"))
    elif isinstance(edit, Whole):
        yield Facet(edit.owner, ())
    else:
        yield Facet(edit.owner, ("step", edit.step), PLACE)


def _moves(changes: Iterable[Change]) -> dict[tuple[str, Path], Path]:
    return {(edit.owner, edit.old): edit.new for change in changes for edit in change.edits if isinstance(edit, Move)}


def _renamed(path: Path, owner: str, moves: dict[tuple[str, Path], Path]) -> Path:
    moved = moves.get((owner, path[:_CHARGE])) if path[:1] == ("phase",) else None
    return path if moved is None else (*moved, *path[_CHARGE:])


class Back:
    """Gives facets the names that they had before some changes."""

    def __init__(self, changes: Sequence[Change]) -> None:
        """Take the changes."""
        self._moves = {(owner, new): old for (owner, old), new in _moves(changes).items()}

    def __call__(self, facet: Facet) -> Facet:
        """Give the facet as it was called before."""
        if not self._moves:  # nearly always
            return facet
        return Facet(facet.owner, _renamed(facet.path, facet.owner, self._moves), facet.what)
