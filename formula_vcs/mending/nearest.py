"""The nearest number for which something holds that does not hold now."""

from __future__ import annotations

from collections.abc import Callable, Iterator


def nearest(holds: Callable[[int], bool], there: int, *, hint: int | None = None) -> int | None:
    """Give the smallest count of steps, from 1 to ``there``, for which something holds; None where it never seems to.

    Exact where it holds for one unbroken stretch of counts, and that is a stretch that is met: by a hint, or by
    looking ever farther away.  What is given was tried, and so was the count before it: there it does not hold.
    """
    known: dict[int, bool] = {0: False}

    def tried(count: int) -> bool:
        if count not in known:
            known[count] = holds(count)
        return known[count]

    for count in _looked_at(there, hint):
        if tried(count):
            low = max(other for other, kept in known.items() if other < count and not kept)
            high = min(other for other, kept in known.items() if other > low and kept)
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (low, middle) if tried(middle) else (middle, high)
            return high
    return None


def _looked_at(there: int, hint: int | None) -> Iterator[int]:
    """Look beside the hint, then ever farther away, at the end last."""
    if hint is not None and 0 < hint <= there:
        # the count before first: where it holds there, the hint was no edge
        for count in (hint - 1, hint, hint + 1):
            if 0 < count <= there:
                yield count
    step = 1
    while step < there:
        yield step
        step = 2 * step + 1
    if there > 0:
        yield there
