"""Merge two orders of the same things: each side's moves, where they do not contradict each other."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from heapq import heapify, heappop, heappush
from itertools import combinations
from typing import TypeVar

from formula_vcs.diff.list_order import moved
from formula_vcs.merge.three_way import ThreeWay

Item = TypeVar("Item", bound=Hashable)


def merged_order(versions: ThreeWay[tuple[Item, ...]], keep: set[Item]) -> tuple[Item, ...] | None:
    """Put the things that stay into one order; None where the two sides contradict each other.

    What comes first of any two is what the side says that changed it.  Two things that no side has together stand in
    the order of their names, so that the result does not depend on which side is whose.
    """
    ours, base, theirs = (tuple(item for item in side if item in keep) for side in _sides(versions))
    if ours == theirs or (theirs == base and set(ours) == keep):
        return ours
    if ours == base and set(theirs) == keep:
        return theirs
    places = [{item: number for number, item in enumerate(side)} for side in (ours, base, theirs)]
    after: dict[Item, set[Item]] = {item: set() for item in keep}
    waits: dict[Item, int] = dict.fromkeys(keep, 0)
    for one, other in combinations(sorted(keep, key=str), 2):
        first = _first(places, one, other)
        if first is None:
            continue
        if first == 0:
            return None
        head, tail = (one, other) if first < 0 else (other, one)
        after[head].add(tail)
        waits[tail] += 1
    return _sorted(after, waits)


def _sides(versions: ThreeWay[tuple[Item, ...]]) -> Iterator[tuple[Item, ...]]:
    yield from (versions.ours, versions.base, versions.theirs)


def _first(places: list[dict[Item, int]], one: Item, other: Item) -> int | None:
    """Say which of two comes first: below 0 the one, above 0 the other, 0 a contradiction, None nobody says."""
    ours, base, theirs = (side[one] - side[other] if one in side and other in side else None for side in places)
    if ours is None or theirs is None:
        return theirs if ours is None else ours
    if (ours < 0) == (theirs < 0):
        return ours
    if base is None:
        return 0
    return ours if (theirs < 0) == (base < 0) else theirs


def _sorted(after: dict[Item, set[Item]], waits: dict[Item, int]) -> tuple[Item, ...] | None:
    ready = [(str(item), item) for item, count in waits.items() if not count]
    heapify(ready)
    found: list[Item] = []
    while ready:
        _, item = heappop(ready)
        found.append(item)
        for follower in after[item]:
            waits[follower] -= 1
            if not waits[follower]:
                heappush(ready, (str(follower), follower))
    return tuple(found) if len(found) == len(after) else None


def put(base: Sequence[str], side: Sequence[str]) -> set[str]:
    """Name what a side put somewhere: what it added, and what it moved."""
    return {*moved(base, side), *(set(side) - set(base))}


def same_gap(order: Sequence[str], ours: set[str], theirs: set[str]) -> Iterator[tuple[str, str]]:
    """Give the pairs that the two sides put beside each other, with nothing between that stayed where it was."""
    run: list[str] = []
    for item in (*order, None):
        if item is not None and (item in ours or item in theirs):
            run.append(item)
            continue
        yield from ((one, other) for one in run for other in run if one in ours - theirs and other in theirs - ours)
        run = []


def woven(order: Sequence[Item], guide: Sequence[Item], keep: set[Item]) -> tuple[Item, ...]:
    """Give an order with the things that only the guide knows put behind their nearest neighbour before them."""
    found = [item for item in order if item in keep]
    for number, item in enumerate(guide):
        if item in keep and item not in found:
            before = next((other for other in reversed(guide[:number]) if other in found), None)
            found.insert(0 if before is None else found.index(before) + 1, item)
    return (*found, *sorted(keep - set(found), key=str))
