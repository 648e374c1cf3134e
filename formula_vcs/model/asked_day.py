"""Days: the one that is asked for, and days some days on."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from typing import Any, Final, Self

# --- Days some days on; people write 9999-12-31 for "never ends", so the calendar's last day is where counting stops


def after(day: datetime.date, count: int = 1) -> datetime.date:
    """The day so many days later, the last of the calendar where there is none."""
    left = (datetime.date.max - day).days
    return day + datetime.timedelta(days=min(count, left))


# --- A day that notes what it was asked, so that it is known on which other days the answers would be the same


_ONE: Final = datetime.timedelta(days=1)


class AskedDay(datetime.date):
    """A day like any other; ``first`` and ``last`` are the days between which every comparison so far ends alike.

    Whatever else is done with it (it is printed, counted from, hashed) binds the answer to this one day.
    """

    first: datetime.date
    last: datetime.date
    plain: datetime.date

    def __new__(cls, day: datetime.date) -> Self:
        """Take the day; nothing was asked yet."""
        made = super().__new__(cls, day.year, day.month, day.day)
        made.plain = day
        made.first, made.last = datetime.date.min, datetime.date.max
        return made

    def bind(self) -> datetime.date:
        """Note that this very day matters, and give it."""
        self.first = self.last = self.plain
        return self.plain

    def _since(self, day: datetime.date) -> None:
        self.first = max(self.first, day)

    def _until(self, day: datetime.date) -> None:
        self.last = min(self.last, day)

    def _usual(self, other: object) -> bool:
        """Say whether the other side is a plain day; else this very day matters."""
        if type(other) is datetime.date:
            return True
        self.bind()
        return False

    def __lt__(self, other: datetime.date) -> bool:
        """Compare, and note which days compare alike."""
        if not self._usual(other):
            return self.plain < _plain(other)
        if self.plain < other:
            self._until(other - _ONE)
            return True
        self._since(other)
        return False

    def __ge__(self, other: datetime.date) -> bool:
        """Compare, and note which days compare alike."""
        return not self.__lt__(other)

    def __gt__(self, other: datetime.date) -> bool:
        """Compare, and note which days compare alike."""
        if not self._usual(other):
            return self.plain > _plain(other)
        if self.plain > other:
            self._since(other + _ONE)
            return True
        self._until(other)
        return False

    def __le__(self, other: datetime.date) -> bool:
        """Compare, and note which days compare alike."""
        return not self.__gt__(other)

    def __eq__(self, other: object) -> bool:
        """Compare, and note which days compare alike."""
        if not isinstance(other, datetime.date):
            return False
        if not self._usual(other):
            return self.plain == _plain(other)
        if self.plain == other:
            self.bind()
            return True
        _ = self.__lt__(other), self.__gt__(other)
        return False

    def __ne__(self, other: object) -> bool:
        """Compare, and note which days compare alike."""
        return not self.__eq__(other)

    def __hash__(self) -> int:
        """The hash of the day, which then matters."""
        return hash(self.bind())


def _plain(day: datetime.date) -> datetime.date:
    return day.bind() if isinstance(day, AskedDay) else day


def _binding(name: str) -> Callable[..., Any]:
    def method(self: AskedDay, *args: Any, **named: Any) -> Any:
        return getattr(self.bind(), name)(*map(_plain, args), **named)

    return method


def _part(name: str) -> property:
    return property(lambda self: getattr(self.bind(), name))


for _name in (
    "__add__", "__radd__", "__sub__", "__rsub__", "__str__", "__repr__", "__format__", "__reduce__", "__reduce_ex__",
    "ctime", "isocalendar", "isoformat", "isoweekday", "replace", "strftime", "timetuple", "toordinal", "weekday",
):  # fmt: skip
    setattr(AskedDay, _name, _binding(_name))
for _name in ("year", "month", "day"):
    setattr(AskedDay, _name, _part(_name))
