"""Slips of the pen: how many there are between two names."""

from __future__ import annotations


def distance(one: str, other: str, most: int) -> int:
    """Count the slips between two names (a letter more, less, other, or two in turn), no further than ``most``.

    >>> distance("sodium benzoat", "sodium benzoate", 2), distance("linalol", "linalool", 1)
    (1, 1)
    """
    before: list[int] = []
    previous = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        current = [i]
        for j, against in enumerate(other, 1):
            cost = min(previous[j] + 1, current[j - 1] + 1, previous[j - 1] + (letter != against))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == against:
                cost = min(cost, before[j - 2] + 1)
            current.append(cost)
        if min(current) > most:
            return most + 1
        before, previous = previous, current
    return previous[-1]
