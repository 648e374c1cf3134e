"""Merge the charges of a recipe by identity: a moved line is the same line, and so is one swapped for another grade.

A charge has its place (phase), its grade (the ingredient), its amount and what is stated beside it; each is merged on
its own.  It is known by its place in the base, a new one by its own.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping
from functools import cached_property
from typing import Final

from formula_vcs.diff.match import Grade, match
from formula_vcs.merge.three_way import (
    GRADE,
    OURS,
    PLACE,
    TAKEN_OUT,
    THEIRS,
    WAYS,
    Clash,
    Fields,
    Id,
    Key,
    MergeSide,
    ThreeWay,
    charge_anchor,
    ids_of,
    known,
    settle_entity,
    side_of,
)
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, field

_SAID: Final[Mapping[Path, str]] = {PLACE: "its phase", GRADE: "its grade", (): "its amount"}
# What is said of an amount holds for another grade too; the amount itself, and what it is for, were meant for the old.
_ROLES: Final = frozenset({("note",), ("at_least",), ("at_most",), ("tolerance",), PLACE, GRADE})


@dataclass
class Charges:
    """Merged charges: in each of the three ways those there are, by identity; and what clashes."""

    sides: ThreeWay[MergeSide]
    merged: ThreeWay[dict[Id, Fields]] = field(default_factory=lambda: ThreeWay({}, {}, {}))
    clashes: list[Clash] = field(default_factory=list)

    def key(self, way: str, name: Id) -> Key:
        """What a charge is called in one of the ways; one that is gone keeps its last name."""
        fields = self.merged.way(way).get(name)
        if fields is not None:
            return fields[PLACE], fields[GRADE]
        return name[0], name[1]

    def names(self) -> ThreeWay[Mapping[Key, Id]]:
        """Say which charge is which in each of the three versions."""
        return ThreeWay(*(_keys(self.sides.way(way).charges) for way in WAYS))

    def moved(self, way: str) -> frozenset[Id]:
        """Name the charges that a side took to another phase."""
        base = self.sides.base.charges
        return frozenset(
            name for name, fields in self.sides.way(way).charges.items()
            if name in base and fields[PLACE] != base[name][PLACE]
        )  # fmt: skip

    def merged_names(self) -> ThreeWay[Mapping[Key, Id]]:
        """Say which charge is which in each way of the merge."""
        return ThreeWay(*(_keys(self.merged.way(way)) for way in WAYS))


def _keys(charges: Mapping[Id, Fields]) -> dict[Key, Id]:
    return {(fields[PLACE], fields[GRADE]): name for name, fields in charges.items()}


def read_charges(versions: ThreeWay[Facts], grades: ThreeWay[Grade], said: Container[Path] = ()) -> Charges:
    """Find which charge of a version is which of the others', and merge them.

    ``said`` names those (`charge_anchor`) about which one side wrote something while the other took them out.
    """
    return _ChargeMerger(versions, grades, said).merge()


class _ChargeMerger:
    """One merge of the charges of a recipe."""

    def __init__(self, versions: ThreeWay[Facts], grades: ThreeWay[Grade], said: Container[Path]) -> None:
        self.said = said
        recipes = ThreeWay(*(Recipe("", side) for side in (versions.ours, versions.base, versions.theirs)))
        base = recipes.base.charges
        self.facts = versions
        self.grades = grades
        self.matchings = {
            way: match(base, recipes.way(way).charges, grades.base, grades.way(way)) for way in (OURS, THEIRS)
        }
        self.sides = ThreeWay(
            side_of(versions.ours, ids_of(recipes.ours.charges, self.matchings[OURS])),
            side_of(versions.base, {(charge.phase, charge.ingredient): known(charge) for charge in base}),
            side_of(versions.theirs, ids_of(recipes.theirs.charges, self.matchings[THEIRS])),
        )
        for side in (self.sides.ours, self.sides.theirs):
            side.gone = self.sides.base.charges.keys() - side.charges.keys()
        self.done = Charges(self.sides)

    def merge(self) -> Charges:
        """Merge what is known as one thing, then what is tied together and cannot be taken apart."""
        for group, words in self._groups():
            if group:  # else all of it is part of another clash
                self._whole(group, words)
        settled = {name for way in WAYS for name in self.done.merged.way(way)} | self._grouped
        for name in self._all:
            if name not in settled:
                self._one(name)
        self._collisions()
        self._lost_phases()
        return self.done

    @cached_property
    def _all(self) -> list[Id]:
        sides = (self.sides.ours, self.sides.base, self.sides.theirs)
        return list(dict.fromkeys(name for side in sides for name in side.charges))

    @cached_property
    def _grouped(self) -> set[Id]:
        return set()

    def _versions(self, name: Id) -> ThreeWay[Fields | None]:
        return ThreeWay(*(side.charges.get(name) for side in (self.sides.ours, self.sides.base, self.sides.theirs)))

    def _one(self, name: Id) -> None:
        versions = self._versions(name)
        ways, clashing = settle_entity(versions)
        words = _words(name, versions, clashing)
        if charge_anchor(name) in self.said and not clashing:
            ways, words = versions, f"'{name[1]}': {TAKEN_OUT}"
        if not clashing and _other_grade(versions):
            ways, words = (
                versions,
                f"'{name[1]}': swapped for another grade on one side, its amount changed on the other",
            )
        for way in WAYS:
            fields = ways.way(way)
            if fields is not None:
                self.done.merged.way(way)[name] = fields
        if words:
            self._clash(name, words)

    def _clash(self, name: Id, words: str) -> None:
        self.done.clashes.append(Clash(f"phase/{name[0]}/charge/{name[1]}", words))

    def _whole(self, group: list[Id], words: str) -> None:
        """Let each way have its own version's lines of a group."""
        self._grouped.update(group)
        for way in WAYS:
            merged = self.done.merged.way(way)
            for name in group:
                merged.pop(name, None)
                fields = self.sides.way(way).charges.get(name)
                if fields is not None:
                    merged[name] = fields
        self._clash(min(group, key=lambda name: (name[2], name)), words)

    # What is tied together

    def _groups(self) -> Iterator[tuple[list[Id], str]]:
        yield from self._recast()
        yield from self._elsewhere()
        yield from self._replaced()
        yield from self._two_phases()

    def _recast(self) -> Iterator[tuple[list[Id], str]]:
        """Find an ingredient that one side split or joined and the other changed too."""
        for way, other in ((OURS, THEIRS), (THEIRS, OURS)):
            for before, after in (*self.matchings[way].split, *self.matchings[way].joined):
                name = before[0].ingredient
                group = [item for item in self._all if name in (item[1], *self._grades(item))]
                versions = [self._versions(item) for item in group]
                touched = any(v.way(other) != v.base for v in versions) and any(not v.agreed for v in versions)
                if touched and not self._grouped & set(group):
                    verb = "split" if len(after) > len(before) else "joined"
                    yield group, f"'{name}': {verb} over the phases on one side, changed on the other"

    def _elsewhere(self) -> Iterator[tuple[list[Id], str]]:
        """Find an ingredient that one side took out of a phase and the other put in once more, or a grade of it.

        Which charge is then which, nobody can say: the two together may be a move, or a swap.
        """
        for way, other in ((OURS, THEIRS), (THEIRS, OURS)):
            # what is related hangs on the ingredient alone, and a group that was yielded is not looked at again
            fresh: dict[str, Id] = {}
            for name in self.sides.way(way).charges:
                if name[2]:
                    fresh.setdefault(name[1], name)
            for name in fresh.values():
                group = self._related(name[1], way)
                versions = [self._versions(item) for item in group]
                left = any(v.base is not None and _left(v.way(other), v.base) for v in versions)
                if left and any(not v.agreed for v in versions) and not self._grouped & set(group):
                    words = f"'{name[1]}': put into phase {name[0]} on one side, taken out on the other"
                    yield group, words

    def _related(self, fresh: str, way: str) -> list[Id]:
        """The charges of the ingredient of a new one, and those that were a grade of it in the base."""
        found = set(self._of_ingredient.get(fresh, ()))
        grade = self.grades.way(way)(fresh)
        if grade is not None:
            found.update(self._of_base_grade.get(grade, ()))
        return sorted(found, key=self._places.__getitem__)

    @cached_property
    def _places(self) -> dict[Id, int]:
        return {name: place for place, name in enumerate(self._all)}

    @cached_property
    def _of_ingredient(self) -> dict[str, list[Id]]:
        found: dict[str, list[Id]] = {}
        for item in self._all:
            for name in {item[1], *self._grades(item)}:
                found.setdefault(name, []).append(item)
        return found

    @cached_property
    def _of_base_grade(self) -> dict[object, list[Id]]:
        found: dict[object, list[Id]] = {}
        for item in self._all:
            if not item[2]:
                found.setdefault(self.grades.base(item[1]), []).append(item)
        return found

    def _grades(self, name: Id) -> set[str]:
        keys = (side.key(name) for side in (self.sides.ours, self.sides.base, self.sides.theirs))
        return {key[1] for key in keys if key is not None}

    def _replaced(self) -> Iterator[tuple[list[Id], str]]:
        """Find a charge in whose place the two sides put different ones."""
        ours, theirs = self.sides.ours.charges, self.sides.theirs.charges
        for name in self.sides.base.charges:
            gone = [way for way, side in ((OURS, ours), (THEIRS, theirs)) if name not in side]
            if not gone or self._versions(name).way(THEIRS if gone[0] == OURS else OURS) == self._versions(name).base:
                continue
            fresh = {way: self._fresh(way, name[0]) for way in gone}
            if len(gone) == 2:
                apart = [*(fresh[OURS] - fresh[THEIRS]), *(fresh[THEIRS] - fresh[OURS])]
                if fresh[OURS] - fresh[THEIRS] and fresh[THEIRS] - fresh[OURS]:
                    yield self._free([name, *sorted(apart)]), f"'{name[1]}': replaced in two ways"
            else:
                stands_in = [item for item in fresh[gone[0]] if self._in_place_of(gone[0], item, name)]
                if stands_in:
                    words = f"'{name[1]}': replaced on one side, changed on the other"
                    yield self._free([name, *sorted(stands_in)]), words

    def _fresh(self, way: str, phase: str) -> set[Id]:
        return {name for name in self.sides.way(way).charges if name[2] and name[0] == phase}

    def _in_place_of(self, way: str, fresh: Id, gone: Id) -> bool:
        side, base = self.sides.way(way).charges, self.sides.base.charges
        same = side[fresh].get(()) == base[gone].get(())
        return same or _before(side, fresh, gone[0]) == _before(base, gone, gone[0])

    def _free(self, group: Iterable[Id]) -> list[Id]:
        return [name for name in group if name not in self._grouped]

    def _two_phases(self) -> Iterator[tuple[list[Id], str]]:
        added = {way: {name for name in self.sides.way(way).charges if name[2]} for way in (OURS, THEIRS)}
        for ingredient in sorted({name[1] for name in added[OURS]} & {name[1] for name in added[THEIRS]}):
            here, there = ({name for name in added[way] if name[1] == ingredient} for way in (OURS, THEIRS))
            if here - there and there - here:
                group = self._free(sorted(here | there))
                if group:
                    phases = " and ".join(sorted({name[0] for name in (here | there) - (here & there)}))
                    yield group, f"'{ingredient}': added to two phases, {phases}"

    # What only shows when all is merged

    def _collisions(self) -> None:
        """Find charges that the merge would put into one line of one phase."""
        while True:
            pair = next((pair for way in WAYS for pair in self._twice(way) if not set(pair) <= self._grouped), None)
            if pair is None:
                return
            self._whole(list(pair), f"'{pair[1][1]}': comes to one phase twice")

    def _twice(self, way: str) -> Iterator[tuple[Id, Id]]:
        taken: dict[Key, Id] = {}
        for name, fields in self.done.merged.way(way).items():
            other = taken.setdefault((fields[PLACE], fields[GRADE]), name)
            if other != name:
                yield other, name

    def _lost_phases(self) -> None:
        """Find charges that one side put into a phase that the other took away."""
        for way, other in ((OURS, THEIRS), (THEIRS, OURS)):
            for phase in _phases(self.facts.base) - _phases(self.facts.way(other)):
                for name, fields in list(self.sides.way(way).charges.items()):
                    before = self.sides.base.charges.get(name)
                    came = fields[PLACE] == phase and (before is None or before[PLACE] != phase)
                    if came and name not in self._grouped and name in self.done.merged.way(way):
                        words = f"'{name[1]}': put into phase {phase} on one side, the phase taken away on the other"
                        self._whole([name], words)


def _phases(facts: Facts) -> set[str]:
    return {path[1] for path in facts if path[0] == "phase" and len(path) > 1}


def _left(fields: Fields | None, base: Fields) -> bool:
    """Say whether a charge of the base is no longer in its phase."""
    return fields is None or fields[PLACE] != base[PLACE]


def _before(charges: Mapping[Id, Fields], name: Id, phase: str) -> Id | None:
    """The charge of the base that stands before another in its phase."""
    before = None
    for other, fields in charges.items():
        if other == name:
            return before
        if fields[PLACE] == phase and not other[2]:
            before = other
    return before


def _other_grade(versions: ThreeWay[Fields | None]) -> bool:
    """Say whether one side swapped the grade and the other changed what was meant for the old one."""
    ours, base, theirs = versions.ours, versions.base, versions.theirs
    if ours is None or base is None or theirs is None:
        return False
    for one, other in ((ours, theirs), (theirs, ours)):
        names = {name for name in (*other, *base) if name not in _ROLES}
        meant = any(other.get(name) != base.get(name) for name in names)
        if one[GRADE] != base[GRADE] and other[GRADE] == base[GRADE] and meant:
            return True
    return False


def _words(name: Id, versions: ThreeWay[Fields | None], clashing: list[Path]) -> str:
    if not clashing:
        return ""
    ours, base, theirs = versions.ours, versions.base, versions.theirs
    if base is None and ours is not None and theirs is not None:
        return f"'{name[1]}': added on both sides, as {_amount(ours)} and as {_amount(theirs)}"
    if ours is None or theirs is None:
        return f"'{name[1]}': removed on one side, changed on the other"
    parts = []
    for part in clashing:
        was = base.get(part) if base is not None else None
        values = " and ".join(str(side.get(part, "nothing")) for side in (ours, theirs))
        parts.append(
            f"{_SAID.get(part, ' '.join(part))} became {values}" + (f" (was {was})" if was is not None else "")
        )
    return f"'{name[1]}': " + "; ".join(parts)


def _amount(fields: Fields) -> str:
    return str(fields.get((), "nothing"))
