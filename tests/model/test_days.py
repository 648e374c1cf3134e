"""Days some days on, to the end of the calendar."""

from __future__ import annotations

import datetime

import pytest

from formula_vcs.model.asked_day import after
from formula_vcs.rules.horizon import later


@pytest.mark.parametrize(
    ("day", "count", "found"),
    [
        ("2026-02-28", 1, "2026-03-01"),
        ("9999-12-30", 1, "9999-12-31"),
        ("9999-12-31", 1, "9999-12-31"),
        ("9999-12-01", 90, "9999-12-31"),
    ],
)
def test_so_many_days_later(day: str, count: int, found: str) -> None:
    assert datetime.date.fromisoformat(found) == after(datetime.date.fromisoformat(day), count)


def test_months_end_with_the_calendar() -> None:
    assert datetime.date.max == later(datetime.date(9999, 6, 1), 240)
    assert datetime.date(2026, 2, 28) == later(datetime.date(2026, 1, 31), 1)
