"""Quantities read from text."""

from __future__ import annotations

import subprocess
import sys
import time
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.model.quantity import exact
from formula_vcs.units import unit_reading
from formula_vcs.units.unit_reading import QuantityError, convert, read_quantity, read_range

MEANINGS = [
    ("8 min", "time", "480"),
    ("12 h", "time", "43200"),
    ("2 weeks", "time", "1209600"),
    ("72 degC", "temperature", "345.15"),
    ("72 °C", "temperature", "345.15"),
    ("72 ºC", "temperature", "345.15"),
    ("-20 degC", "temperature", "253.15"),
    ("161.6 degF", "temperature", "345.15"),
    ("5 delta_degC", "temperature difference", "5"),
    ("6000 rpm", "speed", "100"),
    ("50 Hz", "speed", "50"),
    ("100 1/s", "speed", "100"),
    ("5 m/s", "velocity", "5"),
    ("80 %", "share", "0.8"),
    ("80%", "share", "0.8"),
    ("0.5 % w/w", "share", "0.005"),
    ("850 ppm", "share", "0.00085"),
    ("0.35 g/kg", "share", "0.00035"),
    ("18 Pa*s", "viscosity", "18"),
    ("18 mPa.s", "viscosity", "0.018"),
    ("18 mPa s", "viscosity", "0.018"),
    ("18 mPa·s", "viscosity", "0.018"),
    ("1180 cP", "viscosity", "1.18"),
    ("350 cSt", "kinematic viscosity", "0.00035"),
    ("0.98 g/mL", "density", "980"),
    ("45 kg", "mass", "45"),
    ("2 lb", "mass", "0.90718474"),
    ("7000 grain", "mass", "0.45359237"),
    ("16 oz", "mass", "0.45359237"),
    ("1 dram", "mass", "0.0038879346"),
    ("1 scruple", "mass", "0.0012959782"),
    ("1 troy_ounce", "mass", "0.0311034768"),
    ("75 mL", "volume", "0.000075"),
    ("1 gal", "volume", "0.003785411784"),
    ("1 fl oz", "volume", "0.0000295735295625"),
    ("1 imperial_gallon", "volume", "0.00454609"),
    ("28 mm", "length", "0.028"),
    ("20 µm", "length", "0.00002"),
    ("20 μm", "length", "0.00002"),
    ("1 inch", "length", "0.0254"),
    ("2 m²", "area", "2"),
    ("2 m^3", "volume", "2"),
    ("1.5 bar", "pressure", "150000"),
    ("1.5 kW", "power", "1500"),
    ("12 kJ", "energy", "12000"),
    ("2 N", "force", "2"),
    ("4.8", "number", "4.8"),
    ("2 mmol", "amount", "0.002"),
    ("1 degC/min", "heating rate", "1/60"),
    ("1e9 CFU/g", "count by mass", "1e12"),
    ("4.80 EUR/kg", "price", "4.8"),
    ("4.80 EUR/L", "price by volume", "4800"),
    ("4.80 EUR", "money", "4.8"),
]


@pytest.mark.parametrize(("text", "dimension", "base"), MEANINGS)
def test_read(text: str, dimension: str, base: str) -> None:
    """A quantity has the dimension that the trade calls it by and an exact value in base units."""
    found = read_quantity(text, dimension)

    assert (dimension, Fraction(base)) == (found.dimension, found.base)


BAD = [
    ("8", "time", "'8' has no unit; write e.g. \"8 min\""),
    ("8 min", "temperature", "'8 min' is a time; a temperature is wanted here, e.g. \"72 degC\""),
    ("4.8 %", "number", "'4.8 %' is a share; a plain number is wanted here, e.g. \"4.8\""),
    ("8 min", ("mass", "volume"), "'8 min' is a time; a mass or a volume is wanted here, e.g. \"45 kg\""),
    ("8 EUR", "mass", "'8 EUR' is a sum of money; a mass is wanted here, e.g. \"45 kg\""),
    ("8 J", "mass", "'8 J' is an energy; a mass is wanted here, e.g. \"45 kg\""),
    ("8 KG", None, "'KG' is not a unit that is known here; did you mean 'kg'?"),
    ("8 mni", None, "'mni' is not a unit that is known here; did you mean 'min'?"),
    ("8 furlong", None, "'furlong' is not a unit that is known here"),
    ("72 C", None, "'C' is not a unit; write \"degC\""),
    ("5 gr", None, "'gr' is not a unit: it may mean gram or grain; write g or grain"),
    ("4 XQZ/kg", "price", "'XQZ' in 'XQZ/kg' is not a currency of ISO 4217; write e.g. EUR"),
    ("4 EURO/kg", "price", "'EURO' in 'EURO/kg' is not a currency of ISO 4217; did you mean 'EUR'?"),
    ("4 eur/kg", "price", "'eur' is not a unit that is known here; did you mean 'EUR'?"),
    ("4 €/kg", "price", "'€/kg' is not a unit; write \"EUR\""),
    ("4 kg/EUR", "price", "'kg/EUR' is not a price; write e.g. \"4.80 EUR/kg\""),
    ("4 money/kg", "price", "'money' is not a unit that is known here"),
    ("NaN", None, "'NaN' is not a number"),
    ("inf kg", None, "'inf kg' is not a number"),
    ("-5 min", None, "'-5 min' is negative"),
    ("-0 min", None, "'-0 min' is negative"),
    ("-5 %", None, "'-5 %' is negative"),
    ("-274 degC", None, "'-274 degC' is below absolute zero"),
    ("1e13 kg", None, "'1e13 kg' is too large to be meant"),
    ("1e-16 kg", None, "'1e-16 kg' is too small to be meant"),
    ("0,5 g", None, "'0,5 g' has a comma: write 0.5, with a point"),
    ("5,2", "number", "'5,2' has a comma: write 5.2, with a point"),
    ("4,80 EUR/kg", "price", "'4,80 EUR/kg' has a comma: write 4.80, with a point"),
    ("1,250 kg", "mass", "'1,250 kg' has a comma: write 1.250 or 1250, whichever is meant"),
    ("1,25,0 kg", "mass", "'1,25,0 kg' has a comma: write a decimal point, and nothing between thousands"),
    ("1,250,000 kg", "mass", "'1,250,000 kg' has a comma: write a decimal point, and nothing between thousands"),
    ("500 mPas", "viscosity", "'mPas' is not a unit; write \"mPa*s\""),
    ("20 Pas", "viscosity", "'Pas' is not a unit; write \"Pa*s\""),
    ("75 deg C", "temperature", "'deg C' is not a unit; write \"degC\""),
    (".5 g", None, "'.5 g': write a zero before the point, as in 0.5"),
    ("5. g", None, "'5. g': write a digit after the point, or no point"),
    ("1/2 lb", None, "'/2 lb' is not a unit; write a fraction as a decimal number, as in 0.5"),
    ("12 000 rpm", None, "'12 000 rpm': the number breaks off after 12; write it in one piece, as in 12000 or 0.5"),
    ("18-28 Pa*s", None, '\'18-28 Pa*s\': write a range as "LOW to HIGH UNIT", e.g. "18 to 28 Pa*s"'),
    ("< 45 degC", None, "'< 45 degC': write \"at most 45 degC\""),
    ("≥ 95 %", None, "'≥ 95 %': write \"at least 95 %\""),
    ("about 8 min", None, "'about 8 min' does not begin with a number; write e.g. \"8 min\""),
    ("", None, 'nothing is written here; write e.g. "8 min"'),
    ("  ", None, 'nothing is written here; write e.g. "8 min"'),
    ("8 \x1b[31m", None, "'8 \\x1b[31m' holds a character that cannot be seen"),
    ("8 \u202emin", None, "'8 \\u202emin' holds a character that cannot be seen"),
    ("8 min^9", None, '\'min^9\' is not a unit; write units as in "g/kg", "Pa*s/m" or "m^3"'),
    ("8 s s", None, "'s s' is not a unit; write * or / between two units"),
    ("8 a;b", None, "'a;b' is not a unit: it holds ';'"),
    ("x" * 81, None, f"'{'x' * 40}...' is too long for a quantity"),
    ("8 " + "m" * 41, None, f"'{'m' * 40}...' is too long for a unit"),
    ("1" * 41 + " g", None, f"'{'1' * 40}...' has more digits than any balance: at most 40"),
]


@pytest.mark.parametrize(("text", "wants", "message"), BAD)
def test_refused_in_words(text: str, wants: unit_reading.Wants, message: str) -> None:
    """What is no quantity is refused, and the message says what to write."""
    with pytest.raises(QuantityError) as bad:
        read_quantity(text, wants)

    assert message == bad.value.message


@pytest.mark.parametrize(
    "text",
    [
        "8 1e9**1e9",
        "8 9**9**9**9",
        "8 m**999999999",
        "8 __import__('os')",
        "1e999999999 g",
        "8 (((((g",
        "0e999999 g",
        "٨ min",
    ],
)
def test_hostile_text_ends_at_once(text: str) -> None:
    """Text that would make a parser of expressions compute for ever is refused at once."""
    start = time.process_time()
    with pytest.raises(QuantityError):
        read_quantity(text)

    assert time.process_time() - start < 0.5


def test_no_break_space_is_a_space() -> None:
    """A space that a word processor made is a space."""
    assert read_quantity("8 min") == read_quantity("8\u00a0min") == read_quantity(" 8  min ")


def test_unit_and_digits_as_written() -> None:
    """The number keeps its digits and the unit its spelling."""
    found = read_quantity("0.250 kg")

    assert (found.text, str(found.value), found.unit) == ("0.250 kg", "0.250", "kg")


def test_currency_of_a_price() -> None:
    """A price carries its currency, and prices in two currencies differ."""
    euro, dollar = read_quantity("4.80 EUR/kg", "price"), read_quantity("4.80 USD/kg", "price")

    assert euro.currency == "EUR"
    assert euro != dollar


def test_currency_of_an_old_revision() -> None:
    """A currency that was withdrawn lately is still read, a code that never priced anything is not."""
    assert unit_reading.is_currency("BGN")
    assert not unit_reading.is_currency("XXX")
    assert not unit_reading.is_currency("XAU")


RANGES = [
    ("4.8 to 5.4", "4.8", "5.4"),
    ("-5 to 25 degC", "-5 degC", "25 degC"),
    ("-20 to -5 degC", "-20 degC", "-5 degC"),
    ("18 to 28 Pa*s", "18 Pa*s", "28 Pa*s"),
    ("at most 45 degC", None, "45 degC"),
    ("at least 95 %", "95 %", None),
    ("8 min", "8 min", "8 min"),
    ("30 to 20 min", "30 min", "20 min"),
]


@pytest.mark.parametrize(("text", "low", "high"), RANGES)
def test_range(text: str, low: str | None, high: str | None) -> None:
    """A range has two ends, or one; its ends may stand the wrong way round."""
    found = read_range(text)

    assert (None if low is None else read_quantity(low)) == found.low
    assert (None if high is None else read_quantity(high)) == found.high
    assert text == str(found)


BAD_RANGES = [
    ("18 Pa*s to 28 Pa*s", None, "'18 Pa*s to 28 Pa*s': write the unit once, at the end: \"18 to 28 Pa*s\""),
    ("18 Pa*s to 28", None, "'18 Pa*s to 28': write the unit once, at the end: \"18 to 28 Pa*s\""),
    ("4 to 5", "time", "'5' has no unit; write e.g. \"5 min\""),
    ("4 to 5 g", "time", "'4 g' is a mass; a time is wanted here, e.g. \"8 min\""),
    ("at most", None, "'at most' does not begin with a number; write e.g. \"8 min\""),
    ("1 to 2 to 3", None, "'to 3' is not a unit; write * or / between two units"),
    ("to 5 g", None, "'to 5 g' does not begin with a number; write e.g. \"8 min\""),
]


@pytest.mark.parametrize(("text", "wants", "message"), BAD_RANGES)
def test_bad_range(text: str, wants: str | None, message: str) -> None:
    """What is no range is refused in words."""
    with pytest.raises(QuantityError) as bad:
        read_range(text, wants)

    assert message == bad.value.message


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("72 degC", "degF", "161.6"),
        ("1 lb", "g", "453.59237"),
        ("1 gal", "fl_oz", "128"),
        ("90 s", "min", "1.5"),
        ("4.80 EUR/kg", "EUR/g", "0.0048"),
    ],
)
def test_convert(text: str, unit: str, expected: str) -> None:
    """A conversion is exact."""
    assert Decimal(expected) == exact(convert(read_quantity(text), unit))


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("1 EUR/kg", "USD/kg", "EUR is not changed into USD: there is no rate of exchange here"),
        ("1 lb", "min", "'1 lb' is a mass, 'min' measures a time"),
        ("1 lb", "furlong", "'furlong' is not a unit that is known here"),
    ],
)
def test_convert_refused(text: str, unit: str, message: str) -> None:
    """Nothing is converted into another thing or another currency."""
    with pytest.raises(QuantityError) as bad:
        convert(read_quantity(text), unit)

    assert message == bad.value.message


def test_every_unit_can_be_read() -> None:
    """Every name of a unit reads, and every dimension that has an example reads it."""
    for name in unit_reading.unit_names():
        assert read_quantity(f"300 {name}").base > 0, name
    for dimension, example in unit_reading.EXAMPLES.items():
        assert dimension == read_quantity(example).dimension


def test_units_against_scipy() -> None:
    """Our factors are those of CODATA and NIST as scipy has them."""
    constants = pytest.importorskip("scipy.constants")
    theirs = {
        "lb": constants.lb, "oz": constants.oz, "grain": constants.grain, "inch": constants.inch, "bar": constants.bar,
        "gal": constants.gallon, "fl_oz": constants.fluid_ounce, "imp_gal": constants.gallon_imp,
        "imp_fl_oz": constants.fluid_ounce_imp, "troy_ounce": constants.troy_ounce, "cal": constants.calorie,
        "day": constants.day,
    }  # fmt: skip
    for name, factor in theirs.items():
        assert factor == pytest.approx(float(read_quantity(f"1 {name}").base), rel=1e-15), name


def test_units_against_pint() -> None:
    """Every unit that pint's own registry knows by that name has the same size there."""
    import pint

    theirs: Any = pint.UnitRegistry(cache_folder=None)
    # There a dram is the avoirdupois one, rpm an angle by time, cps a count by time.
    other_meaning = {"percent", "rpm", "dram", "cps", "celsius", "fahrenheit"}
    compared = 0
    for name in unit_reading.unit_names():
        if name in theirs._units and name not in other_meaning and "deg" not in name:
            ours = read_quantity(f"300 {name}")
            size = theirs.Quantity(300, name)
            mass = size.dimensionality.get("[mass]", 0)
            compared += 1

            # pint's base of mass is the gram
            assert float(ours.base) == pytest.approx(size.to_root_units().magnitude / 1000**mass, rel=1e-6), name
    assert compared > 90


def test_import_is_light() -> None:
    """Importing the module does not import pint."""
    code = "import sys; import formula_vcs.units.unit_reading; sys.exit('pint' in sys.modules)"

    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@given(
    st.decimals(min_value=0, max_value=10**9, allow_nan=False, allow_infinity=False, places=4),
    st.sampled_from(["min", "degC", "rpm", "%", "g/kg", "Pa*s", "EUR/kg", "mL", "lb", ""]),
)
def test_round_trip(value: Decimal, unit: str) -> None:
    """What a quantity is shown as reads back as the same quantity with the same digits."""
    found = read_quantity(f"{value:f} {unit}".rstrip())

    assert found == read_quantity(str(found))
    assert str(found) == str(read_quantity(str(found)))
    assert found.value == exact(convert(found, unit)) if unit else True


@given(st.text(max_size=90))
def test_any_text_ends_in_a_quantity_or_a_message(text: str) -> None:
    """No text makes anything but a quantity, a range or a `QuantityError` with a printable message."""
    try:
        said = str(read_range(text))
    except QuantityError as bad:
        said = bad.message

    assert said.isprintable()


@given(st.text(alphabet="0123456789 .,eE+-*/^%gkmsPaEURdtoC°µ1", max_size=30))
def test_any_near_quantity_ends_in_a_quantity_or_a_message(text: str) -> None:
    """Nor does text that looks much like a quantity."""
    test_any_text_ends_in_a_quantity_or_a_message.hypothesis.inner_test(text)  # type: ignore[attr-defined]
