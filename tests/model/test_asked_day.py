"""A day that notes what it was asked."""

from __future__ import annotations

import datetime
import operator
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.model.asked_day import AskedDay

DAY = datetime.date(2026, 6, 1)
_NEAR = st.dates(datetime.date(2026, 5, 20), datetime.date(2026, 6, 12))
_OPERATORS = (operator.lt, operator.le, operator.gt, operator.ge, operator.eq, operator.ne)
_BINDING: tuple[Callable[[datetime.date], object], ...] = (
    str, repr, hash, "{:%d}".format, lambda day: f"{day}", lambda day: day.year, lambda day: day.month,
    lambda day: day.day, lambda day: day.toordinal(), lambda day: day - DAY, lambda day: DAY - day,
    lambda day: day + datetime.timedelta(1), lambda day: datetime.timedelta(1) + day, lambda day: day.isoformat(),
    lambda day: day.weekday(), lambda day: day.replace(day=3), lambda day: {day: 1}, lambda day: day.strftime("%d"),
    lambda day: day == DAY, lambda day: day.isocalendar(), lambda day: day - datetime.timedelta(1),
)  # fmt: skip


@given(asked=st.lists(st.tuples(st.sampled_from(_OPERATORS), _NEAR, st.booleans()), max_size=6), other=_NEAR)
def test_days_between_first_and_last_answer_alike(
    asked: list[tuple[Callable[[object, object], bool], datetime.date, bool]], other: datetime.date
) -> None:
    """What was compared comes out the same for every day of the span, from either side."""
    day = AskedDay(DAY)

    def answers(of: datetime.date) -> list[bool]:
        return [compare(bound, of) if turned else compare(of, bound) for compare, bound, turned in asked]

    said = answers(day)
    assert said == answers(DAY)
    assert day.first <= DAY <= day.last
    if day.first <= other <= day.last:
        assert said == answers(other)


def test_bounds_are_as_wide_as_they_can_be() -> None:
    day = AskedDay(DAY)
    assert (datetime.date.min, datetime.date.max) == (day.first, day.last)
    assert day > datetime.date(2026, 1, 5)
    assert day <= datetime.date(2026, 9, 1)
    assert (datetime.date(2026, 1, 6), datetime.date(2026, 9, 1)) == (day.first, day.last)


@pytest.mark.parametrize("use", _BINDING)
def test_any_other_use_binds_to_the_day(use: Callable[[datetime.date], object]) -> None:
    day = AskedDay(DAY)
    assert use(DAY) == use(day) or use is repr
    assert day.first == day.last == DAY
