"""Which items of a list were moved: all that are not on the longest run kept in order."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence


def moved(old: Sequence[str], new: Sequence[str]) -> list[str]:
    """Give the items of both lists that had to move, in their new order; ids are unique, so the longest common
    subsequence is the longest increasing run of old positions (n log n).

    >>> moved(["a", "b", "c", "d"], ["a", "d", "b", "c"])
    ['d']
    """
    place = {name: position for position, name in enumerate(old)}
    shared = [name for name in new if name in place]
    ends: list[int] = []  # ends[k]: the smallest old position that ends a run of length k + 1
    at: list[int] = []  # index into shared of that end
    before: list[int | None] = [None] * len(shared)
    for index, name in enumerate(shared):
        length = bisect_left(ends, place[name])
        before[index] = at[length - 1] if length else None
        if length == len(ends):
            ends.append(place[name])
            at.append(index)
        else:
            ends[length] = place[name]
            at[length] = index
    kept: set[int] = set()
    cursor: int | None = at[-1] if at else None
    while cursor is not None:
        kept.add(cursor)
        cursor = before[cursor]
    return [name for index, name in enumerate(shared) if index not in kept]
