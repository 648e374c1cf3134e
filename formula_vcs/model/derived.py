"""What is worked out from a value that never changes, once."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

T = TypeVar("T")


class Derived:
    """Values by key, each worked out when first asked for.  Beside an owner's facts, and no part of its meaning."""

    __slots__ = ("_values",)

    def __init__(self) -> None:
        """Begin with nothing."""
        self._values: dict[Hashable, Any] = {}

    def cached(self, key: Hashable, compute: Callable[[], T]) -> T:
        """The value under a key; ``compute`` is called at most once a key."""
        if key not in self._values:
            self._values[key] = compute()
        value: T = self._values[key]
        return value
