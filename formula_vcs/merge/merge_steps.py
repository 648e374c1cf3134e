"""Merge the steps of a process: each field on its own, and the order from what both sides moved."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from formula_vcs.diff.change import GONE
from formula_vcs.merge.merge_charges import Charges
from formula_vcs.merge.merge_rows import merged_order, put, same_gap, woven
from formula_vcs.merge.three_way import OURS, THEIRS, WAYS, Clash, Fields, MergeSide, ThreeWay, settle
from formula_vcs.model.amount import Addition
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.values import replace

_LISTS: Final = ("add", "adjust", "from")

Items = tuple[tuple[Any, Any], ...]


def by_identity(facts: Facts, side: MergeSide) -> dict[Path, Any]:
    """Give facts whose steps name charges by identity, so that a charge that moved is named the same as before."""

    def known(text: str) -> Any:
        return side.named(text) or text

    return {path: _lists(path, value, known) for path, value in facts.items()}


def by_name(facts: Facts, charges: Charges, way: str) -> dict[Path, Any]:
    """Give merged facts whose steps name the charges as they are called in one of the ways."""

    def called(name: Any) -> Any:
        return "/".join(charges.key(way, name)) if isinstance(name, tuple) else name

    return {path: _lists(path, value, called) for path, value in facts.items()}


def _lists(path: Path, value: Any, name: Callable[[Any], Any]) -> Any:
    if len(path) != 3 or path[0] != "step" or path[2] not in ("add", "adjust") or not isinstance(value, tuple):
        return value
    return tuple(replace(item, what=name(item.what)) if isinstance(item, Addition) else name(item) for item in value)


def named(fields: Fields) -> frozenset[Any]:
    """The charges, by identity, that a step names in its lists."""
    items = (item for key in ("add", "adjust") if isinstance(value := fields.get((key,)), tuple) for item in value)
    found = (item.what if isinstance(item, Addition) else item for item in items)
    return frozenset(item for item in found if isinstance(item, tuple))


def is_list(name: Path, versions: ThreeWay[Any]) -> bool:
    """Say whether a field of a step is a list whose members are merged one by one."""
    values = (versions.ours, versions.base, versions.theirs)
    return name[-1:] != () and name[-1] in _LISTS and all(value is GONE or isinstance(value, tuple) for value in values)


def settle_list(versions: ThreeWay[Any]) -> ThreeWay[Any]:
    """Merge a list as a set of members whose order counts; each way keeps its own where members or order clash."""
    simple = settle(versions)
    if simple.agreed:
        return simple
    sides = ThreeWay(*(_items(side) for side in (versions.ours, versions.base, versions.theirs)))
    if any(len(dict(side)) != len(side) for side in (sides.ours, sides.base, sides.theirs)):
        return versions
    members: dict[Any, Any] = {}
    for key in dict.fromkeys(key for side in (sides.ours, sides.theirs) for key, _ in side):
        member = settle(ThreeWay(*(dict(side).get(key, GONE) for side in (sides.ours, sides.base, sides.theirs))))
        if not member.agreed:
            return versions
        if member.ours is not GONE:
            members[key] = member.ours
    orders = ThreeWay(*(tuple(key for key, _ in side) for side in (sides.ours, sides.base, sides.theirs)))
    order = merged_order(orders, set(members))
    if order is None:
        return versions
    merged = tuple(members[key] for key in order) or GONE
    return ThreeWay(merged, merged, merged)


def _items(value: Any) -> Items:
    if value is GONE:
        return ()
    return tuple((item.what if isinstance(item, Addition) else item, item) for item in value)


def settle_order(
    orders: ThreeWay[tuple[str, ...]], present: ThreeWay[Mapping[str, Fields]]
) -> tuple[ThreeWay[tuple[str, ...]], Clash | None]:
    """Merge the order of the steps that each way has; two that are put into one gap clash if they share a vessel."""
    keep = set(present.ours) | set(present.theirs)
    merged = merged_order(orders, keep)
    clash = None
    apart: set[str] = set()
    if merged is None:
        clash = Clash("step", "the steps were put into two orders that contradict each other")
    else:
        placed = {way: put(orders.base, orders.way(way)) for way in (OURS, THEIRS)}
        pairs = [
            tuple(sorted(pair))
            for pair in same_gap(merged, placed[OURS], placed[THEIRS])
            if _share_vessel(present.ours.get(pair[0]), present.theirs.get(pair[1]))
        ]
        if pairs:
            clash = Clash(
                f"step/{pairs[0][0]}", "; ".join(f"steps '{a}' and '{b}' were put into one gap" for a, b in pairs)
            )
            apart = {name for pair in pairs for name in pair}
    if clash is None and merged is not None:
        return ThreeWay(*(tuple(name for name in merged if name in present.way(way)) for way in WAYS)), None
    fresh = {way: (set(orders.way(way)) - set(orders.base)) & apart for way in (OURS, THEIRS)}
    ours = woven(orders.ours, orders.theirs, set(present.ours) - fresh[THEIRS])
    theirs = woven(orders.theirs, orders.ours, set(present.theirs) - fresh[OURS])
    base = woven(orders.base, orders.ours, set(present.base) - fresh[OURS] - fresh[THEIRS])
    return ThreeWay(ours, base, theirs), clash


def _share_vessel(one: Fields | None, other: Fields | None) -> bool:
    vessels = [_vessels(fields) for fields in (one, other)]
    return any(not found for found in vessels) or bool(vessels[0] & vessels[1])


def _vessels(fields: Fields | None) -> set[Any]:
    """Name the vessels that a step works in; nothing where it does not say."""
    if fields is None or not isinstance(fields.get(("into",)), str):
        return set()
    joins = fields.get(("from",), ())
    return {fields["into",], *(joins if isinstance(joins, tuple) else ())}
