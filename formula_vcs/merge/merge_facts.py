"""Merge the facts of a file: three versions in, those of the merge out, in each way its conflicts can be settled."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any, Final

from formula_vcs.diff.change import GONE
from formula_vcs.diff.counterfactuals import TooMuchError, causes
from formula_vcs.diff.diff import diff
from formula_vcs.diff.match import Grade
from formula_vcs.merge.comments import NO_NAMES, Names
from formula_vcs.merge.merge_charges import Charges, read_charges
from formula_vcs.merge.merge_rows import PRICE, Orders, is_row, keyed, merged_order, numbered, woven
from formula_vcs.merge.merge_steps import by_identity, by_name, is_list, named, settle_list, settle_order
from formula_vcs.merge.three_way import (
    GRADE,
    OURS,
    PLACE,
    TAKEN_OUT,
    THEIRS,
    WAYS,
    Clash,
    Fields,
    ThreeWay,
    is_charge,
    settle,
    settle_entity,
)
from formula_vcs.merge.verdict import Bench
from formula_vcs.model.facts import Facts, Path, Unread, spelled
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import STEP_ORDER, Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.review.compare import file_changes
from formula_vcs.workspace.snapshot import Snapshot

# --- Name the edits of both sides that together break something


_MOST = 3


def edits(
    bench: Bench, versions: ThreeWay[bytes | None], after: Snapshot, finding: Finding
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The edits of ours and of theirs in words; a side of which none is needed gives what it changed at all."""
    before = ThreeWay(*(bench.at(side) for side in (versions.ours, versions.base, versions.theirs)))
    ours, theirs = ((), ()) if finding.recipe is None else edits_between(before, after, finding, bench.day)
    return ours or _changed(before, OURS, bench.path), theirs or _changed(before, THEIRS, bench.path)


def edits_between(
    sides: ThreeWay[Snapshot], after: Snapshot, finding: Finding, day: datetime.date
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The edits of ours and of theirs that bring a finding of a recipe together, in words."""
    name = finding.recipe or ""
    base = _formula(sides.base, name)
    changes = diff(base, _formula(after, name))
    try:
        needed = set(causes(base, changes, finding, day))
    except TooMuchError:
        needed = set()
    # in the words of the side: where both change one list, the merge has what neither of them wrote
    own = (diff(base, _formula(sides.way(way), name)) for way in (OURS, THEIRS))
    ours, theirs = (tuple(change.text for change in changes if change.id in needed)[:_MOST] for changes in own)
    return ours, theirs


def _changed(before: ThreeWay[Snapshot], way: str, path: str) -> tuple[str, ...]:
    found = file_changes(before.base, before.way(way), path, path) or ()
    return tuple(change.text for change in found if not change.derived)[:_MOST]


def _formula(snapshot: Snapshot, name: str) -> Formula:
    return snapshot.formula(snapshot.recipe(name) or Recipe(name, {}, f"{name}.toml"))


# --- Merge the facts of a file: three versions in, those of the merge out, in each way its conflicts can be settled


# How long the path is of something that is deleted or changed as one: a step, a row of the house's rules.
_WHOLE: Final[Mapping[str, int]] = {
    "step": 2,
    "rule": 2,
    "pair": 2,
    "accept": 3,
    "price": 2,
    "rate": 2,
    "substances": 2,
}
# A recipe has hundreds of facts; what has more is nobody's recipe, and comparing everything with everything takes long.
_MOST_FACTS: Final = 10_000
# Refusals of names: with two steps of one id, nobody can say which is which.
_NAMES: Final = frozenset({"bad-id"})


class NotMergeable(ValueError):
    """Facts that have no meaning to merge by."""


@dataclass(frozen=True)
class MergedFacts:
    """The facts of the merge in each way; and what clashes, nothing where the three are one.

    ``names`` say which charge is which in each version, ``merged`` in each way.
    """

    facts: ThreeWay[Facts]
    clashes: tuple[Clash, ...]
    names: ThreeWay[Names] = NO_NAMES
    merged: ThreeWay[Names] = NO_NAMES


def merge_facts(
    kind: str, versions: ThreeWay[Facts], grades: ThreeWay[Grade], said: frozenset[Path] = frozenset()
) -> MergedFacts:
    """Merge the facts of a file of a kind; ``grades`` say what an ingredient mostly is, see `diff.match`.

    ``said`` names what one side took out while the other wrote something about it (`Comments.orphans`): to take it out
    would lose that, so it clashes.

    :raises NotMergeable: a version has names that cannot be told apart, or is longer than any recipe.
    """
    for side in (versions.ours, versions.base, versions.theirs):
        if any(isinstance(value, Unread) and value.rule in _NAMES for value in side.values()):
            raise NotMergeable("a name stands twice")
        if len(side) > _MOST_FACTS:
            raise NotMergeable("the file is too long")
    if not said and (versions.ours == versions.theirs or versions.base in (versions.ours, versions.theirs)):
        facts = versions.theirs if versions.ours == versions.base else versions.ours
        found = ThreeWay(facts, facts, facts)
        if kind != "recipe":
            return MergedFacts(found, ())
        charges = read_charges(versions, grades)
        return MergedFacts(found, (), charges.names(), charges.merged_names())
    if kind == "recipe" and _two_measures(versions):
        words = "the amounts became another measure on one side, and were changed on the other"
        return MergedFacts(versions, (Clash("amounts", words),))
    return _FactMerger(kind, versions, grades, said).merge()


def _two_measures(versions: ThreeWay[Facts]) -> bool:
    """Say whether amounts of two measures, parts and percent, would come into one recipe."""
    ways = [versions.way(way) for way in WAYS]
    measures = ThreeWay(*(side.get(("amounts",), GONE) for side in ways))
    if measures.ours == measures.theirs:
        return False
    charges = ThreeWay(*({path: value for path, value in side.items() if is_charge(path)} for side in ways))
    touched = [way for way in (OURS, THEIRS) if charges.way(way) != charges.base]
    merged = settle(measures)
    return not merged.agreed or len(touched) > 1 or any(measures.way(way) != merged.ours for way in touched)


class _FactMerger:
    """One merge."""

    def __init__(self, kind: str, versions: ThreeWay[Facts], grades: ThreeWay[Grade], said: frozenset[Path]) -> None:
        self.said = said
        self.versions = versions
        self.kind = kind
        self.clashes: list[Clash] = []
        self.charges: Charges | None = None
        sides = keyed(kind, versions)
        if kind == "recipe":
            self.charges = read_charges(versions, grades, {name[:4] for name in said})
            self.clashes += self.charges.clashes
        self.facts = ThreeWay(*(self._prepared(sides.way(way)[0], way) for way in WAYS))
        self.orders = ThreeWay(*(sides.way(way)[1] for way in WAYS))
        self.merged: ThreeWay[dict[Path, Any]] = ThreeWay({}, {}, {})

    def _prepared(self, facts: Facts, way: str) -> dict[Path, Any]:
        if self.charges is None:
            return dict(facts)
        side: dict[Path, Any] = by_identity(facts, self.charges.sides.way(way))
        return {path: value for path, value in side.items() if not is_charge(path)}

    def merge(self) -> MergedFacts:
        """Merge everything, then bring it into the form of a file."""
        sides = ThreeWay(*(_entities(self.kind, self.facts.way(way)) for way in WAYS))
        kept: ThreeWay[dict[Path, Fields]] = ThreeWay({}, {}, {})
        for name in dict.fromkeys((*sides.ours, *sides.theirs, *sides.base)):
            self._entity(name, ThreeWay(*(sides.way(way).get(name) for way in WAYS)), kept)
        self._charges()
        self._phases()
        self._steps(kept)
        orders = self._rows(kept)
        facts = ThreeWay(*(self._finished(way, orders.way(way)) for way in WAYS))
        if self.charges is None:
            return MergedFacts(facts, tuple(self.clashes))
        return MergedFacts(facts, tuple(self.clashes), self.charges.names(), self.charges.merged_names())

    def _entity(self, name: Path, versions: ThreeWay[Fields | None], kept: ThreeWay[dict[Path, Fields]]) -> None:
        ways, clashing = settle_entity(versions, lambda part, field: self._field(name, part, field))
        if not clashing and _taken_out(versions) and any(one[: len(name)] == name for one in self.said):
            ways = versions
            self.clashes.append(Clash(spelled(name), f"'{' '.join(name)}': {TAKEN_OUT}"))
        away = self._away(name, versions) if not clashing and _is_step(name) else ""
        if away:
            ways = versions
            self.clashes.append(Clash(spelled(name), away))
        if clashing:
            self.clashes.append(Clash(spelled(name), _words(name, versions, clashing)))
        for way in WAYS:
            fields = ways.way(way)
            if fields is None:
                continue
            kept.way(way)[name] = fields
            for field, value in fields.items():
                if field != _PRESENT:
                    self.merged.way(way)[(*name, *field)] = value

    def _away(self, step: Path, versions: ThreeWay[Fields | None]) -> str:
        """Say which charge a step takes by name on one side that the other side took to another phase, "" if none."""
        for way, other in ((OURS, THEIRS), (THEIRS, OURS)):
            before, after = versions.base or {}, versions.way(way)
            if self.charges is None or after is None or versions.way(other) != versions.base:
                continue
            fresh = named(after) - named(before)
            for name in sorted(fresh & self.charges.moved(other)):
                place = self.charges.sides.way(other).charges[name][PLACE]
                return (
                    f"step '{step[1]}' takes '{name[0]}/{name[1]}' by name on one side; "
                    f"the other took it from phase {name[0]} to {place}"
                )
        return ""

    def _field(self, name: Path, part: Path, field: ThreeWay[Any]) -> ThreeWay[Any]:
        if (*name, *part) in self.said and (field.ours is GONE or field.theirs is GONE):
            return field
        return _settle_field(part, field)

    def _charges(self) -> None:
        if self.charges is None:
            return
        for way in WAYS:
            for fields in self.charges.merged.way(way).values():
                path = ("phase", fields[PLACE], "charge", fields[GRADE])
                for field, value in fields.items():
                    if field not in (PLACE, GRADE):
                        self.merged.way(way)[(*path, *field)] = value

    def _phases(self) -> None:
        """Keep the title of a phase that one side took away and a conflict may bring back; mark the empty ones."""
        there = ThreeWay(*(_phases_of(self.versions.way(way)) for way in WAYS))
        for way in WAYS:
            merged = self.merged.way(way)
            filled = {path[1] for path in merged if is_charge(path)}
            titled = {path[1] for path in merged if path[0] == "phase" and len(path) > 1 and not is_charge(path)}
            for phase in sorted(filled - titled):
                gone = [side for side in (OURS, THEIRS) if phase not in there.way(side)]
                if len(gone) == 1:
                    other = self.facts.way(THEIRS if gone[0] == OURS else OURS)
                    merged.update({p: v for p, v in other.items() if p[:2] == ("phase", phase) and len(p) > 2})
            full = {path[:2] for path in merged if len(path) > 2}
            for path in [path for path in merged if path[0] == "phase" and len(path) == 2 and path in full]:
                del merged[path]

    def _steps(self, kept: ThreeWay[dict[Path, Fields]]) -> None:
        present: ThreeWay[Mapping[str, Fields]] = ThreeWay(
            *({name[1]: f for name, f in kept.way(way).items() if _is_step(name)} for way in WAYS)
        )
        orders = ThreeWay(*(_order(self.versions.way(way)) for way in WAYS))
        order, clash = settle_order(orders, present)
        if clash is not None:
            self.clashes.append(clash)
        for way in WAYS:
            merged = self.merged.way(way)
            names = set(order.way(way))
            for path in [path for path in merged if path[0] == "step" and len(path) > 2 and path[1] not in names]:
                del merged[path]
            if names:
                merged[STEP_ORDER] = order.way(way)

    def _rows(self, kept: ThreeWay[dict[Path, Fields]]) -> ThreeWay[Orders]:
        """Merge the order of rows that a file numbers."""
        found: ThreeWay[Orders] = ThreeWay({}, {}, {})
        tables = dict.fromkeys(table for way in WAYS for table in self.orders.way(way))
        for table in tables:
            orders = ThreeWay(*(self.orders.way(way).get(table, ()) for way in WAYS))
            for way in WAYS:
                names = {name[-1] for name in kept.way(way) if name[:-1] == table}
                merged = merged_order(orders, names)
                found.way(way)[table] = woven(orders.way(way), orders.theirs, names) if merged is None else merged
        return found

    def _finished(self, way: str, orders: Orders) -> Facts:
        facts = self.merged.way(way)
        if self.charges is not None:
            facts = by_name(facts, self.charges, way)
        return numbered(facts, orders, self.versions.ours)


# Stands for a step that states nothing but its id, so that it is there.
_PRESENT: Final[Path] = ("", "present")


def _is_step(name: Path) -> bool:
    return name[0] == "step" and len(name) == 2


def _order(facts: Facts) -> tuple[str, ...]:
    found = facts.get(STEP_ORDER, ())
    return found if isinstance(found, tuple) else ()


def _phases_of(facts: Facts) -> set[str]:
    return {path[1] for path in facts if path[0] == "phase" and len(path) > 1}


def _entities(kind: str, facts: Facts) -> dict[Path, dict[Path, Any]]:
    """Sort facts into what is one thing: a step, a row, or a fact that stands by itself."""
    found: dict[Path, dict[Path, Any]] = {}
    for step in _order(facts):
        found["step", step] = {_PRESENT: True}
    for path, value in facts.items():
        if path != STEP_ORDER:
            length = is_row(kind, path) or (_WHOLE.get(path[0], 0) if len(path) > 1 else 0) or len(path)
            if path[0] == "phase" and not is_row(kind, path) and len(path) > 4 and path[2] == "charge":
                length = 4  # a charge of a batch
            found.setdefault(path[:length], {})[path[length:]] = value
    return found


def _taken_out(versions: ThreeWay[Fields | None]) -> bool:
    return versions.base is not None and (versions.ours is None) is not (versions.theirs is None)


def _settle_field(name: Path, field: ThreeWay[Any]) -> ThreeWay[Any]:
    return settle_list(field) if name and is_list(name, field) else settle(field)


def _words(name: Path, versions: ThreeWay[Fields | None], clashing: list[Path]) -> str:
    # the price says its day and quantity itself, and its name is made for sorting
    name = name[:1] if name[0] == PRICE else name
    shown = " ".join(name)
    ours, base, theirs = versions.ours, versions.base, versions.theirs
    if base is None and clashing == [()] and (ours or {}).keys() != {()}:
        alone = [str(*side.values()) for side in (ours, theirs) if side is not None and len(side) == 1]
        how = f"as {alone[0]} and as {alone[1]}" if len(alone) > 1 else "and not the same"
        return f"'{shown}': added on both sides, {how}"
    if ours is None or theirs is None:
        return f"'{shown}': removed on one side, changed on the other"
    parts = []
    for field in clashing:
        values = " and ".join(str(side.get(field, "nothing")) for side in (ours, theirs))
        said = dict.fromkeys((*name, *field))  # a price has nothing but its price
        parts.append(f"{' '.join(said)} became {values}")
    return "; ".join(parts)


__all__ = ["MergedFacts", "NotMergeable", "merge_facts"]
