"""Two measurements compared: whatever they are, turned round they say the same with the sign turned."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.model.quantity import Quantity
from formula_vcs.trace.compare_measurements import in_widths, middle, pair, place
from formula_vcs.units.unit_reading import read_quantity, read_range

UNITS = (("Pa*s", "mPa*s", "cP"), ("kg", "g", "lb"), ("degC", "degF", "K"), ("min", "s", "h"))
_NUMBERS = st.decimals(min_value=1, max_value=900, places=2)


@st.composite
def twins(draw: st.DrawFn) -> tuple[Quantity, Quantity]:
    """Give two quantities of one dimension, in units of their own."""
    units = draw(st.sampled_from(UNITS))
    found = [read_quantity(f"{draw(_NUMBERS)} {draw(st.sampled_from(units))}") for _ in range(2)]
    return found[0], found[1]


@given(twins())
def test_turned_round_the_sign_is_turned(both: tuple[Quantity, Quantity]) -> None:
    there, back = pair(*both), pair(both[1], both[0])

    assert there.slip == back.slip
    assert (there.state == "same") == (back.state == "same")
    if there.unit == back.unit:
        assert there.way == -back.way
        assert (there.difference or 0) == -(back.difference or 0)


@given(twins())
def test_a_quantity_and_itself_are_the_same(both: tuple[Quantity, Quantity]) -> None:
    assert ("same", 0) == (pair(both[0], both[0]).state, pair(both[0], both[0]).way)


def test_half_of_both_last_digits_is_hidden() -> None:
    assert "digit" == pair(read_quantity("5.0"), read_quantity("5.1")).state
    assert "differs" == pair(read_quantity("5.0"), read_quantity("5.2")).state
    assert "digit" == pair(read_quantity("18 Pa*s"), read_quantity("18.5 Pa*s")).state
    assert "differs" == pair(read_quantity("18.0 Pa*s"), read_quantity("18500 mPa*s")).state


def test_what_cannot_be_compared() -> None:
    assert "units" == pair(read_quantity("5 kg"), read_quantity("5 min")).state
    assert "new only" == pair(None, read_quantity("5 kg")).state
    assert "none" == pair(None, None).state


def test_widths_and_places() -> None:
    spec = read_range("18 to 28 Pa*s")
    found = pair(read_quantity("23.1 Pa*s"), read_quantity("15800 mPa*s"))

    assert Decimal("-0.73") == Decimal(str(float(in_widths(found, spec) or 0)))
    assert ("in", "below") == (place(found.old, spec).verdict, place(found.new, spec).verdict)
    assert None is in_widths(found, read_range("at most 28 Pa*s"))
    assert "" == place(found.new, read_range("4 to 5")).verdict


def test_the_middle_of_a_range() -> None:
    value = middle(read_range("72 to 79 degC"))

    assert value is not None
    assert Decimal("75.5") == value.value
    assert middle(read_range("at most 5 min")) is None
