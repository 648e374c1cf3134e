"""Units against scipy.constants, pint's own definitions, NIST SP 811, Handbook 44 and the conversions of old books."""

from __future__ import annotations

import json
import math
from fractions import Fraction
from pathlib import Path

import pint
import pytest
from scipy import constants

from formula_vcs.units.unit_reading import QuantityError, convert, currencies, read_quantity

F = Fraction

# Ours, the name in scipy.constants (2018 and later: exact by definition), the unit of the value there.
SCIPY = [
    ("grain", "grain", "kg"),
    ("oz", "oz", "kg"),
    ("lb", "lb", "kg"),
    ("troy_ounce", "troy_ounce", "kg"),
    ("troy_pound", "troy_pound", "kg"),
    ("t", "metric_ton", "kg"),
    ("g", "gram", "kg"),
    ("inch", "inch", "m"),
    ("ft", "foot", "m"),
    ("um", "micron", "m"),
    ("L", "liter", "m^3"),
    ("gal", "gallon_US", "m^3"),
    ("fl_oz", "fluid_ounce_US", "m^3"),
    ("imp_gal", "gallon_imp", "m^3"),
    ("imp_fl_oz", "fluid_ounce_imp", "m^3"),
    ("min", "minute", "s"),
    ("h", "hour", "s"),
    ("d", "day", "s"),
    ("week", "week", "s"),
    ("bar", "bar", "Pa"),
    ("cal", "calorie_th", "J"),
    ("delta_degF", "degree_Fahrenheit", "delta_degC"),
    ("ft/min", "foot", "m/min"),
]


@pytest.mark.parametrize(("ours", "theirs", "base"), SCIPY)
def test_factors_are_those_of_scipy(ours: str, theirs: str, base: str) -> None:
    assert math.isclose(convert(read_quantity(f"1 {ours}"), base), getattr(constants, theirs), rel_tol=4e-16)


@pytest.mark.parametrize(
    "number", ["-40", "-17.777", "0", "4", "20", "25", "37", "72.5", "85", "100", "121.1", "-273.15"]
)
@pytest.mark.parametrize(("ours", "theirs"), [("degC", "Celsius"), ("degF", "Fahrenheit"), ("K", "Kelvin")])
@pytest.mark.parametrize(("to", "to_theirs"), [("degC", "C"), ("degF", "F"), ("K", "K")])
def test_temperatures_are_those_of_scipy(number: str, ours: str, theirs: str, to: str, to_theirs: str) -> None:
    if constants.convert_temperature(float(number), theirs, "K") < 0:
        with pytest.raises(QuantityError):
            read_quantity(f"{number} {ours}")
        return
    found = convert(read_quantity(f"{number} {ours}"), to)
    theirs_found = constants.convert_temperature(float(number), theirs, to_theirs)
    assert math.isclose(found, theirs_found, rel_tol=1e-12, abs_tol=1e-9)


# Exact by definition.  Sources: NIST Handbook 44, appendix C, section 4 (avoirdupois, troy and apothecaries' mass, US
# liquid measure), NIST SP 811, appendix B (bar, poise, stokes, calorie), Weights and Measures Act 1985, schedule 1
# (imperial measure), all from memory; the masses also seen at sengpielaudio.com/ConvWeigh.htm and the measures at
# crosswordnexus.com/word/FLUIDOUNCE.
EXACT = [
    ("1 lb", "g", "453.59237"),
    ("1 oz", "g", "28.349523125"),
    ("1 oz", "grain", "437.5"),
    ("1 lb", "grain", "7000"),
    ("1 grain", "mg", "64.79891"),
    ("1 dr_avdp", "grain", "27.34375"),
    ("1 dr_avdp", "g", "1.7718451953125"),
    ("1 scruple", "g", "1.2959782"),
    ("1 drachm", "g", "3.8879346"),
    ("1 drachm", "scruples", "3"),
    ("1 dram", "grain", "60"),
    ("1 troy_ounce", "g", "31.1034768"),
    ("1 apothecary_ounce", "drams", "8"),
    ("1 troy_pound", "g", "373.2417216"),
    ("1 apothecary_pound", "apothecary_ounce", "12"),
    ("1 gal", "in^3", "231"),
    ("1 gal", "mL", "3785.411784"),
    ("1 gal", "qt", "4"),
    ("1 gal", "pt", "8"),
    ("1 pint", "mL", "473.176473"),
    ("1 quart", "mL", "946.352946"),
    ("1 cup", "mL", "236.5882365"),
    ("1 fl oz", "mL", "29.5735295625"),
    ("1 gal", "fl_oz", "128"),
    ("1 fl_dr", "mL", "3.6966911953125"),
    ("1 fl_oz", "fluid_drachm", "8"),
    ("1 fl_dr", "minim", "60"),
    ("1 minim", "mL", "0.061611519921875"),
    ("1 tbsp", "mL", "14.78676478125"),
    ("1 tbsp", "tsp", "3"),
    ("1 imp_gal", "L", "4.54609"),
    ("1 imp_pt", "mL", "568.26125"),
    ("1 imp_pt", "imp_fl_oz", "20"),
    ("1 imp_gal", "imp_fl_oz", "160"),
    ("1 imp_fl_oz", "mL", "28.4130625"),
    ("1 imp_fl_dr", "mL", "3.5516328125"),
    ("1 imp_fl_oz", "imp_minim", "480"),
    ("1 ft", "m", "0.3048"),
    ("1 inch", "mm", "25.4"),
    ("1 P", "Pa*s", "0.1"),
    ("1 cP", "mPa*s", "1"),
    ("1 St", "m^2/s", "0.0001"),
    ("1 cSt", "mm^2/s", "1"),
    ("1 bar", "Pa", "100000"),
    ("1 mbar", "Pa", "100"),
    ("1 cal", "J", "4.184"),
    ("1 kWh", "MJ", "3.6"),
    ("60 rpm", "Hz", "1"),
    ("1 ppm", "%", "0.0001"),
    ("0.35 g/kg", "ppm", "350"),
    ("850 ppm", "%", "0.085"),
    ("0.98 g/mL", "kg/m^3", "980"),
    ("0 degF", "K", "45967/180"),
    ("212 degF", "degC", "100"),
    ("1 degC/min", "K/min", "1"),
    ("3.5 lb", "g", "1587.573295"),
]


@pytest.mark.parametrize(("one", "unit", "number"), EXACT)
def test_handbook_44_and_sp_811_factors_are_exact(one: str, unit: str, number: str) -> None:
    assert convert(read_quantity(one), unit) == F(number)


# NIST SP 811, appendix B.8, as printed there to seven figures, from memory.
PRINTED = [
    ("1 grain", "kg", "6.479891E-05"),
    ("1 oz", "kg", "2.834952E-02"),
    ("1 troy_ounce", "kg", "3.110348E-02"),
    ("1 lb", "kg", "4.535924E-01"),
    ("1 troy_pound", "kg", "3.732417E-01"),
    ("1 scruple", "kg", "1.295978E-03"),
    ("1 dram", "kg", "3.887935E-03"),
    ("1 dr_avdp", "kg", "1.771845E-03"),
    ("1 gal", "m^3", "3.785412E-03"),
    ("1 imp_gal", "m^3", "4.546090E-03"),
    ("1 qt", "m^3", "9.463529E-04"),
    ("1 pt", "m^3", "4.731765E-04"),
    ("1 cup", "m^3", "2.365882E-04"),
    ("1 fl_oz", "m^3", "2.957353E-05"),
    ("1 imp_fl_oz", "m^3", "2.841306E-05"),
    ("1 tbsp", "m^3", "1.478676E-05"),
    ("1 tsp", "m^3", "4.928922E-06"),
    ("1 minim", "m^3", "6.161152E-08"),
    ("1 fl_dr", "m^3", "3.696691E-06"),
    ("1 lb/gal", "kg/m^3", "1.198264E+02"),
    ("1 lb/imp_gal", "kg/m^3", "9.977637E+01"),
    ("1 oz/gal", "kg/m^3", "7.489152E+00"),
    ("1 grain/gal", "kg/m^3", "1.711806E-02"),
]


@pytest.mark.parametrize(("one", "unit", "printed"), PRINTED)
def test_sp_811_prints_these_seven_figures(one: str, unit: str, printed: str) -> None:
    assert f"{float(convert(read_quantity(one), unit)):.6E}" == printed


# What pint calls each of them in its own, much larger file of definitions, which we do not use; "ours=theirs" where
# the two differ.  pint's dram is the avoirdupois one; a formulary's is of 60 grains.
PINT = {
    "kg": ["grain", "ounce", "pound", "scruple", "troy_ounce", "troy_pound", "gram", "tonne=metric_ton"],
    "g": ["avoirdupois_dram=dram", "dram=apothecary_dram"],
    "m^3": ["gallon", "quart", "pint", "cup", "fluid_ounce", "tablespoon", "teaspoon", "fluid_dram", "minim", "cc"],
    "mL": ["imperial_gallon", "imperial_pint", "imperial_fluid_ounce", "imperial_fluid_drachm", "imperial_minim"],
    "m": ["inch", "foot", "micron"],
    "s": ["minute", "hour", "day", "week"],
    "Hz": ["rpm=1/minute"],
    "Pa*s": ["poise", "centipoise"],
    "m^2/s": ["stokes"],
    "Pa": ["bar", "millibar"],
    "J": ["calorie", "kilowatt_hour"],
    "S": ["siemens", "microsiemens"],
}


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize(("unit", "names"), [(unit, names) for unit, all_of in PINT.items() for names in all_of])
def test_factors_are_those_of_pint_s_own_file(registry: pint.UnitRegistry, unit: str, names: str) -> None:
    ours, _, theirs = names.partition("=")
    found = registry.Quantity(Fraction(1), theirs or ours).to(unit).magnitude
    assert convert(read_quantity(f"1 {ours}"), unit) == found


# Printed in King's American Dispensatory, 1898 (k), and The Dispensatory of the United States of America, 1918 (d),
# both at henriettes-herb.com/eclectic, text seen: metric, and the same in avoirdupois ounces and grains or in US fluid
# ounces and minims, each to the nearest grain or minim.
BOOKS = [
    ("125 g", "grain", 4 * 437.5 + 179),  # d; by hand 1929.045
    ("120 g", "grain", 4 * 437.5 + 102),  # d; 1851.883
    ("560 g", "grain", 19 * 437.5 + 330),  # d; 8642.121
    ("190 g", "grain", 6 * 437.5 + 307),  # d; 2932.148
    ("5 g", "grain", 77),  # d; 77.162
    ("10 g", "grain", 154),  # k; 154.324
    ("80 g", "grain", 2 * 437.5 + 360),  # k; 1234.589
    ("200 g", "grain", 7 * 437.5 + 24),  # k; 3086.472
    ("800 g", "grain", 28 * 437.5 + 96),  # k; 12345.887
    ("1000 g", "grain", 35 * 437.5 + 120),  # k, d; 15432.358
    ("600 mL", "minim", 20 * 480 + 138),  # k; 9738.44
    ("190 mL", "minim", 6 * 480 + 204),  # k; 3083.84
    ("10 mL", "minim", 162),  # k; 162.31
]


@pytest.mark.parametrize(("metric", "unit", "printed"), BOOKS)
def test_the_dispensatories_convert_alike(metric: str, unit: str, printed: float) -> None:
    assert abs(convert(read_quantity(metric), unit) - F(printed)) <= F(1, 2)


def test_a_misprint_of_king_s_is_one() -> None:
    # King's 1898 prints white wax, 120 g, as "4 ozs. av., 120 grs.", the Dispensatory of 1918 as 102: 102 is right.
    grains = convert(read_quantity("120 g"), "grain")
    assert round(grains) == 4 * F("437.5") + 102
    assert grains != 4 * F("437.5") + 120


def test_the_pound_of_course_sheets_is_not_the_pound() -> None:
    # A course sheet prints 1 % of 3.5 lb as 15.89 g (text seen at uhphar-4330.herokuapp.com): it takes 454 g for the
    # pound.  3.5 x 453.59237 = 1587.573295; 1 % is 15.87573295
    assert convert(read_quantity("3.5 lb"), "g") / 100 == F("15.87573295")
    assert F("3.5") * 454 / 100 == F("15.89")


# ISO 4217 list one, active codes.  The reference is Debian's iso-codes; without it, this is skipped.
ISO_CODES = Path("/usr/share/iso-codes/json/iso_4217.json")
NO_PRICE = {"XAG", "XAU", "XPD", "XPT", "XBA", "XBB", "XBC", "XBD", "XDR", "XSU", "XTS", "XUA", "XXX"}
# Newer than, or gone since, what may be installed (from memory): SLE 2022, VED 2021, XCG 2025 for ANG, ZWG 2024 for
# ZWL, XAD 2025; out of the list: HRK 2023, CUC 2021, SLL 2024, BGN 2026.
RECENT = {"SLE", "VED", "XCG", "ANG", "ZWG", "ZWL", "XAD", "HRK", "CUC", "SLL", "BGN"}
# Out of list one for years (from memory): LTL 2015, BYR 2016, MRO, STD and VEF 2018.
RETIRED = {"BYR", "LTL", "MRO", "STD", "VEF"}


@pytest.fixture(scope="module")
def iso_4217() -> set[str]:
    if not ISO_CODES.is_file():
        pytest.skip("iso-codes is not installed")
    rows = json.loads(ISO_CODES.read_text(encoding="utf-8"))["4217"]
    return {row["alpha_3"] for row in rows}


def test_iso_4217_codes_are_known(iso_4217: set[str]) -> None:
    assert iso_4217 - NO_PRICE - RECENT <= currencies()
    assert currencies() - RETIRED - RECENT <= iso_4217
    assert not currencies() & NO_PRICE


@pytest.mark.parametrize("code", ["EUR", "USD", "GBP", "JPY", "CHF", "PLN", "SEK", "INR", "BRL", "MYR", "KWD"])
def test_iso_4217_codes_read_as_prices(code: str) -> None:
    price = read_quantity(f"4.80 {code}/kg", "price")
    assert (price.currency, price.base) == (code, F("4.8"))
    # 4.80 for 1 lb is 4.80 / 0.45359237 for 1 kg
    assert read_quantity(f"4.80 {code}/lb", "price").base == F("4.8") / F("0.45359237")
