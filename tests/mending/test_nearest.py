"""The nearest count for which something holds, against trying every one."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.mending.mend import nearest


@given(st.integers(1, 3000), st.integers(1, 3000), st.integers(-5, 3000))
def test_a_stretch_that_reaches_to_the_end_is_found_with_any_hint(there: int, first: int, hint: int) -> None:
    first = min(first, there)
    tried: list[int] = []

    def holds(count: int) -> bool:
        tried.append(count)
        return count >= first

    assert first == nearest(holds, there, hint=hint)
    assert len(set(tried)) == len(tried)
    assert len(tried) <= 30


@given(st.integers(1, 2000), st.integers(1, 2000), st.integers(0, 2000))
def test_with_the_edge_as_hint_one_point_is_found(there: int, first: int, length: int) -> None:
    first = min(first, there)
    assert first == nearest(lambda count: first <= count <= first + length, there, hint=first)


def test_where_it_holds_nowhere_there_is_none() -> None:
    assert nearest(lambda _: False, 500, hint=7) is None
    assert nearest(lambda _: True, 0) is None


def test_what_is_given_was_tried_and_so_was_the_count_before() -> None:
    tried: dict[int, bool] = {}

    def holds(count: int) -> bool:
        tried[count] = 137 <= count
        return tried[count]

    assert nearest(holds, 1000) == 137
    assert {136: False, 137: True}.items() <= tried.items()
