"""Days some days on; people write 9999-12-31 for "never ends", so the calendar's last day is where counting stops."""

from __future__ import annotations

import datetime


def after(day: datetime.date, count: int = 1) -> datetime.date:
    """Give the day so many days later, the last of the calendar where there is none."""
    left = (datetime.date.max - day).days
    return day + datetime.timedelta(days=min(count, left))
