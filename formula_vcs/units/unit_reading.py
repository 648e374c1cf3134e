"""Quantities from text: "8 min", "72 degC", "18 to 28 Pa*s", "4.80 EUR/kg".

Number and unit are told apart here; pint reads the unit, once for each spelling, and the arithmetic is exact.
pint costs 0.1 s to import, so its answers for the trade's common units are kept in ``unit_table``, and it is
imported when the first other unit is read.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.values import dataclass
from formula_vcs.units.unit_table import NAMES, TABLE
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

Wants = str | tuple[str, ...] | None

LONGEST_TEXT: Final = 80
LONGEST_UNIT: Final = 40
MOST_DIGITS: Final = 40
LARGEST: Final = Decimal(10) ** 12
SMALLEST: Final = Decimal(10) ** -15

# Dimension: an example, which messages show.  What people measure has a name here; the rest gets pint's.
EXAMPLES: Final[Mapping[str, str]] = {
    "mass": "45 kg",
    "time": "8 min",
    "temperature": "72 degC",
    "temperature difference": "5 delta_degC",
    "speed": "6000 rpm",
    "velocity": "5 m/s",
    "share": "80 %",
    "viscosity": "18 Pa*s",
    "kinematic viscosity": "350 cSt",
    "density": "0.98 g/mL",
    "price": "4.80 EUR/kg",
    "price by volume": "4.80 EUR/L",
    "money": "4.80 EUR",
    "volume": "75 mL",
    "length": "28 mm",
    "area": "2 m^2",
    "pressure": "2 bar",
    "power": "1.5 kW",
    "power by volume": "2 kW/m^3",
    "energy": "12 kJ",
    "energy by mass": "40 J/g",
    "force": "5 N",
    "number": "4.8",
    "amount": "2 mmol",
    "concentration": "2 mmol/L",
    "titre": "0.30 mmol/g",
    "heating rate": "1 degC/min",
    "mass flow": "2 kg/min",
    "volume flow": "2 L/min",
    "surface tension": "32 mN/m",
    "conductivity": "1.3 uS/cm",
    "count by mass": "100 CFU/g",
    "count by volume": "100 CFU/mL",
}

_POWERS: Final[Mapping[frozenset[tuple[str, int]], str]] = {
    frozenset(powers.items()): name
    for name, powers in {
        "mass": {"[mass]": 1},
        "time": {"[time]": 1},
        "temperature": {"[temperature]": 1},
        "speed": {"[time]": -1},
        "velocity": {"[length]": 1, "[time]": -1},
        "share": {},
        "viscosity": {"[mass]": 1, "[length]": -1, "[time]": -1},
        "kinematic viscosity": {"[length]": 2, "[time]": -1},
        "density": {"[mass]": 1, "[length]": -3},
        "price": {"[money]": 1, "[mass]": -1},
        "price by volume": {"[money]": 1, "[length]": -3},
        "money": {"[money]": 1},
        "volume": {"[length]": 3},
        "length": {"[length]": 1},
        "area": {"[length]": 2},
        "pressure": {"[mass]": 1, "[length]": -1, "[time]": -2},
        "power": {"[mass]": 1, "[length]": 2, "[time]": -3},
        "power by volume": {"[mass]": 1, "[length]": -1, "[time]": -3},
        "energy": {"[mass]": 1, "[length]": 2, "[time]": -2},
        "energy by mass": {"[length]": 2, "[time]": -2},
        "force": {"[mass]": 1, "[length]": 1, "[time]": -2},
        "amount": {"[substance]": 1},
        "concentration": {"[substance]": 1, "[length]": -3},
        "titre": {"[substance]": 1, "[mass]": -1},
        "heating rate": {"[temperature]": 1, "[time]": -1},
        "mass flow": {"[mass]": 1, "[time]": -1},
        "volume flow": {"[length]": 3, "[time]": -1},
        "surface tension": {"[mass]": 1, "[time]": -2},
        "conductivity": {"[current]": 2, "[time]": 3, "[mass]": -1, "[length]": -3},
        "count by mass": {"[count]": 1, "[mass]": -1},
        "count by volume": {"[count]": 1, "[length]": -3},
    }.items()
}

_NUMBER: Final = late_pattern(r"([+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,2})?) ?(.*)", re.DOTALL)
_NAME: Final = late_pattern(r"([A-Za-z_]+)(?:\^?([1-3]))?")
_EXPRESSION: Final = late_pattern(
    r"(?:1?/)?[A-Za-z_]+(?:\^?[1-3])?(?:\*[A-Za-z_]+(?:\^?[1-3])?){0,3}(?:/[A-Za-z_]+(?:\^?[1-3])?){0,3}"
)
_ODD: Final = late_pattern(r"[^A-Za-z0-9_*/^ ]")
_RANGE: Final = late_pattern(r"(?:at (most|least) (.*)|(.*?) to (.*))", re.DOTALL)
_SPACES: Final = str.maketrans({"\u00a0": " ", "\u2009": " ", "\u202f": " "})

# How people and their keyboards spell it: what pint is told.
_SPELLINGS: Final = (
    (r"[\u00b5\u03bc]", "u"),
    (r"[\u00b0\u00ba] ?([CF])\b", r"deg\1"),
    ("\u2103", "degC"),
    ("\u2109", "degF"),
    ("[\u00b7\u22c5]", "*"),
    ("\u00b2", "^2"),
    ("\u00b3", "^3"),
    (r"\*\*", "^"),
    (r"% (?:w/w|m/m)", "percent"),
    (r"%", "percent"),
    ("\u2030", "permille"),
    (r"\b(m?Pa)[. ]s\b", r"\1*s"),
    (r"\bfl\.? oz\b", "fl_oz"),
    (r" ?([*/^]) ?", r"\1"),
)
_HINTS: Final[Mapping[str, str]] = {
    "C": '; write "degC"',
    "F": '; write "degF"',
    "gr": ": it may mean gram or grain; write g or grain",
    "dr": ": write dram (apothecaries'), dr_avdp or fl_dr",
    "ton": ": write t for 1000 kg",
    "month": ": months differ in length; write days or weeks",
    "months": ": months differ in length; write days or weeks",
    "M": "; write mol/L",
    "mPas": '; write "mPa*s"',
    "mpas": '; write "mPa*s"',
    "Pas": '; write "Pa*s"',
    "deg": '; write "degC"',
    "deg C": '; write "degC"',
    "deg. C": '; write "degC"',
    "deg F": '; write "degF"',
    "\u20ac": '; write "EUR"',
    "$": '; write the currency by its letters, e.g. "USD"',
    "\u00a3": '; write "GBP"',
}


class QuantityError(ValueError):
    """A text that is no quantity; ``message`` says why, in words for a chemist."""

    def __init__(self, message: str) -> None:
        """Keep the message."""
        super().__init__(message)
        self.message = message


@dataclass(frozen=True, slots=True)
class _Unit:
    """What one spelling of a unit means: base = value * factor + offset."""

    text: str
    factor: Fraction
    offset: Fraction
    dimension: str
    currency: str


@lru_cache(maxsize=4096)  # a history, or a thousand recipes, state few different quantities
def read_quantity(text: str, wants: Wants = None) -> Quantity:
    """Read one quantity, such as "8 min", "80 %" or "4.80 EUR/kg".

    ``wants`` names the dimension that must come (`EXAMPLES` lists them), or several that may, or None for
    any. A bare number is of dimension "number".

    Raises `QuantityError`.
    """
    clean = _clean(text)
    number, unit = _split(clean, wants)
    return _quantity(clean, _decimal(number, clean), _unit_or_raise(unit, wants, number), wants)


@lru_cache(maxsize=4096)
def read_range(text: str, wants: Wants = None) -> Range:
    """Read "LOW to HIGH UNIT", "at most HIGH UNIT", "at least LOW UNIT" or one quantity.

    The ends may stand the wrong way round; `Range.ordered` tells.

    Raises `QuantityError`.
    """
    clean = _clean(text)
    found = _RANGE.fullmatch(clean)
    if found is None:
        one = read_quantity(clean, wants)
        return Range(clean, one, one)
    side, one_end, low, high = found.groups()
    if side is not None:
        end = read_quantity(one_end, wants)
        return Range(clean, None, end) if side == "most" else Range(clean, end, None)
    return _two_ended(clean, low, high, wants)


# From where a pressure is counted, as its unit says it: "0.2 bar absolute", "-0.8 bar gauge".  The standard atmosphere
# (CGPM 1954, Resolution 4) stands for the room's pressure, wherever the plant lies.
ABSOLUTE: Final = "absolute"
GAUGE: Final = "gauge"
FROM_WHERE: Final = (ABSOLUTE, GAUGE)
ATMOSPHERE: Final = Fraction(101_325)  # Pa


def convert(quantity: Quantity, unit: str) -> Fraction:
    """Give the number of a quantity in another unit, exactly.

    Raises `QuantityError` where the unit is unknown or measures something else; a currency is never changed.
    """
    plain, _, counted = " ".join(unit.split()).rpartition(" ")
    if counted in FROM_WHERE and quantity.dimension == "pressure":
        zero = ATMOSPHERE if counted == GAUGE else Fraction(0)
        return (quantity.base - zero) / _unit_or_raise(plain, ("pressure",), "1").factor
    target = _unit_or_raise(" ".join(unit.split()), None, "1")
    if target.dimension != quantity.dimension:
        other = _a(target.dimension)
        message = f"{quoted(str(quantity))} is {_a(quantity.dimension)}, {quoted(unit)} measures {other}"
        raise QuantityError(message)
    if target.currency != quantity.currency:
        message = f"{quantity.currency} is not changed into {target.currency}: there is no rate of exchange here"
        raise QuantityError(message)
    return (quantity.base - target.offset) / target.factor


def unit_names() -> tuple[str, ...]:
    """Give every name of a unit that can be written, sorted; currencies are not among them."""
    return tuple(sorted(NAMES))


@lru_cache(maxsize=1)
def currencies() -> frozenset[str]:
    """Give the currency codes that a price may name."""
    lines = Path(__file__).with_name("currencies.txt").read_text(encoding="ascii").split("\n")
    return frozenset(line for line in lines if line and not line.startswith("#"))


def is_currency(code: str) -> bool:
    """Say whether a code is a currency that a price may name."""
    return code in currencies()


def _two_ended(text: str, low: str, high: str, wants: Wants) -> Range:
    number, unit = _split(low, wants)
    top_number, top_unit = _split(high, wants)
    if unit:
        message = f'{quoted(text)}: write the unit once, at the end: "{number} to {top_number} {top_unit or unit}"'
        raise QuantityError(message)
    meaning = _unit_or_raise(top_unit, wants, top_number)
    joined = f"{number} {top_unit}".rstrip()
    return Range(
        text,
        _quantity(joined, _decimal(number, text), meaning, wants),
        _quantity(high, _decimal(top_number, text), meaning, wants),
    )


def _clean(text: str) -> str:
    """Give the text with single spaces; refuse what cannot be a quantity whatever it says."""
    if len(text) > LONGEST_TEXT:
        message = f"{quoted(text)} is too long for a quantity"
        raise QuantityError(message)
    spaced = text if text.isascii() else text.translate(_SPACES)
    if not spaced.isprintable():
        message = f"{quoted(text)} holds a character that cannot be seen"
        raise QuantityError(message)
    clean = " ".join(spaced.split(" ")) if "  " not in spaced else " ".join(spaced.split())
    clean = clean.strip()
    if not clean:
        message = 'nothing is written here; write e.g. "8 min"'
        raise QuantityError(message)
    return clean


def _split(text: str, wants: Wants) -> tuple[str, str]:
    """Tell the number from the unit, which may be missing (empty)."""
    found = _NUMBER.fullmatch(text)
    if found is None:
        raise QuantityError(_no_number(text, wants))
    number, unit = found.groups()
    if unit and unit[0] in "0123456789.,_+-\u2013\u00b1(" and not unit.startswith("1/"):
        raise QuantityError(_broken_number(text, number, unit))
    return number, unit


def _decimal(number: str, text: str) -> Decimal:
    if sum(character.isdigit() for character in number) > MOST_DIGITS:
        message = f"{quoted(text)} has more digits than any balance: at most {MOST_DIGITS}"
        raise QuantityError(message)
    value = Decimal(number)
    # copy_abs, as abs() would round to the 28 digits of the context.
    if value and not SMALLEST <= value.copy_abs() <= LARGEST:
        message = f"{quoted(text)} is too {'large' if value.adjusted() > 0 else 'small'} to be meant"
        raise QuantityError(message)
    return value


def _quantity(text: str, value: Decimal, unit: _Unit, wants: Wants) -> Quantity:
    if wants is not None and unit.dimension != wants and unit.dimension not in _choices(wants):
        raise QuantityError(_wrong_dimension(text, unit.dimension, wants))
    if value.is_signed() and not unit.offset:
        message = f"{quoted(text)} is negative"
        raise QuantityError(message)
    base = Fraction(value) * unit.factor + unit.offset
    if base < 0:
        message = f"{quoted(text)} is below absolute zero"
        raise QuantityError(message)
    return Quantity(text, value, unit.text, unit.dimension, base, unit.currency)


def _unit_or_raise(text: str, wants: Wants, number: str) -> _Unit:
    if not text:
        if wants is None or "number" in _choices(wants):
            return _PLAIN
        message = f'{quoted(number)} has no unit; write e.g. "{number} {_example_unit(wants)}"'
        raise QuantityError(message)
    found = _unit(text)
    if isinstance(found, str):
        raise QuantityError(found)
    return found


@lru_cache(maxsize=512)
def _unit(text: str) -> _Unit | str:
    """Give what a unit means, or the message that refuses it: bad ones are remembered too."""
    if len(text) > LONGEST_UNIT:
        return f"{quoted(text)} is too long for a unit"
    spelled = text if _EXPRESSION.fullmatch(text) else _respelled(text)
    if _EXPRESSION.fullmatch(spelled) is None:
        return _not_an_expression(text, spelled)
    return _meaning(text, spelled)


def _respelled(text: str) -> str:
    """Spell a unit as pint does.  The patterns are compiled here: most files need none, and they take 3 ms."""
    if text == "%":
        return "percent"
    for pattern, plain in _SPELLINGS:
        text = re.sub(pattern, plain, text)
    return text


def _meaning(text: str, spelled: str) -> _Unit | str:
    """Ask pint, with the currency replaced by a unit of money."""
    currency = ""
    names = [found.group(1) for found in _NAME.finditer(spelled)]
    for place, name in enumerate(names):
        if name not in NAMES:
            if place or name not in currencies():
                return _unknown(text, name, place, len(names))
            currency = name
            spelled = "money" + spelled.removeprefix(name)
    if len(names) > 1:
        # A degree in a rate is a difference: 1 degC/min is 1 K/min.
        spelled = re.sub(r"\bdeg([CF])\b", r"delta_deg\1", spelled)
    known = TABLE.get(spelled)
    if known is not None:
        over, under, offset, offset_under, dimension = known
        factor, shift = Fraction(over, under), Fraction(offset, offset_under)
        return _Unit(" ".join(text.split()), factor, shift, dimension, currency)
    found = ask_pint(" ".join(text.split()), spelled, currency)
    if currency and found.dimension not in ("price", "price by volume", "money"):
        return f'{quoted(text)} is not a price; write e.g. "4.80 {currency}/kg"'
    return found


def ask_pint(text: str, spelled: str, currency: str) -> _Unit:
    """Ask pint what a unit means: its exact factor and offset to the base unit, and its dimension."""
    registry = _registry()
    expression = re.sub(r"([A-Za-z_])\^?([1-3])", r"\1**\2", spelled)
    unit = registry.parse_units(f"1{expression}" if expression.startswith("/") else expression)
    factor = Fraction(registry.get_root_units(unit)[0])
    offset = Fraction(registry.Quantity(Fraction(0), unit).to_root_units().magnitude)
    powers = {str(name): int(power) for name, power in registry.get_dimensionality(unit).items()}
    dimension = _POWERS.get(frozenset(powers.items())) or " ".join(f"{name}^{powers[name]}" for name in sorted(powers))
    if spelled in {"delta_degC", "delta_degF"}:
        dimension = "temperature difference"
    return _Unit(text, factor, offset, dimension, currency)


def defined_names() -> frozenset[str]:
    """Read the names off the definitions, as pint would also take guesses: plurals and prefixes."""
    names = {"delta_degC", "delta_degF"}  # pint adds them to the degrees
    for line in Path(__file__).with_name("units.txt").read_text(encoding="ascii").split("\n"):
        name, _, rest = line.partition("#")[0].partition(" = ")
        names.update((name, *(other.strip() for other in rest.split(" = ")[1:])))
    return frozenset(names - {"", "_", "money"})


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(str(Path(__file__).with_name("units.txt")), non_int_type=Fraction)


_PLAIN: Final = _Unit("", Fraction(1), Fraction(0), "number", "")


# --- what is said when it cannot be read


def _choices(wants: Wants) -> tuple[str, ...]:
    if wants is None:
        return ()
    return (wants,) if isinstance(wants, str) else wants


def _example(wants: Wants) -> str:
    first = _choices(wants)[:1] or ("time",)
    return EXAMPLES.get(first[0], "8 min")


def _example_unit(wants: Wants) -> str:
    return _example(wants).partition(" ")[2]


def _a(dimension: str) -> str:
    if dimension == "number":
        return "a plain number"
    if dimension == "money":
        return "a sum of money"
    return f"{'an' if dimension[0] in 'aeiou' else 'a'} {dimension}"


def _no_number(text: str, wants: Wants) -> str:
    if text.lower().lstrip("+-").startswith(("nan", "inf")):
        return f"{quoted(text)} is not a number"
    if re.match(r"[+-]?\.[0-9]", text):
        return f"{quoted(text)}: write a zero before the point, as in 0.5"
    if text[0] in "<>\u2264\u2265":
        side = "most" if text[0] in "<\u2264" else "least"
        return f'{quoted(text)}: write "at {side} {text[1:].lstrip("= ")}"'
    return f'{quoted(text)} does not begin with a number; write e.g. "{_example(wants)}"'


def _broken_number(text: str, number: str, rest: str) -> str:
    if rest[0] == ",":
        return f"{quoted(text)} has a comma: {_with_point(number, rest)}"
    if rest[0] == "." and not rest[1:2].isdigit():
        return f"{quoted(text)}: write a digit after the point, or no point"
    if rest[0] in "-\u2013\u00b1":
        return f'{quoted(text)}: write a range as "LOW to HIGH UNIT", e.g. "18 to 28 Pa*s"'
    return f"{quoted(text)}: the number breaks off after {number}; write it in one piece, as in 12000 or 0.5"


def _with_point(number: str, rest: str) -> str:
    """Say how a number with a comma is written: behind a comma that three digits follow either may be meant."""
    parts = re.match(r"[0-9,]+", number + rest)
    whole, *more = parts[0].rstrip(",").split(",") if parts else [number]
    if len(more) == 1 and len(more[0]) == len("000"):
        return f"write {whole}.{more[0]} or {whole}{more[0]}, whichever is meant"
    if len(more) == 1:
        return f"write {whole}.{more[0]}, with a point"
    return "write a decimal point, and nothing between thousands"


def _wrong_dimension(text: str, dimension: str, wants: Wants) -> str:
    wanted = " or ".join(_a(choice) for choice in _choices(wants))
    return f'{quoted(text)} is {_a(dimension)}; {wanted} is wanted here, e.g. "{_example(wants)}"'


def _not_an_expression(text: str, spelled: str) -> str:
    hint = _HINTS.get(text.partition("/")[0].strip())
    if hint is not None:
        return f"{quoted(text)} is not a unit{hint}"
    if re.match(r"1?/[0-9]", spelled):
        return f"{quoted(text)} is not a unit; write a fraction as a decimal number, as in 0.5"
    odd = _ODD.search(spelled)
    if odd is not None:
        return f"{quoted(text)} is not a unit: it holds {quoted(odd.group())}"
    if " " in spelled:
        return f"{quoted(text)} is not a unit; write * or / between two units"
    return f'{quoted(text)} is not a unit; write units as in "g/kg", "Pa*s/m" or "m^3"'


def _unknown(text: str, name: str, place: int, count: int) -> str:
    """Say that a name is unknown, as a currency where it stands and looks like one."""
    hint = _HINTS.get(name)
    if hint is not None:
        return f"{quoted(name)} is not a unit{hint}"
    if name in currencies():
        return f'{quoted(text)} is not a price; write e.g. "4.80 {name}/kg"'
    near = _nearest(name)
    suggestion = f"; did you mean {quoted(near)}?" if near else ""
    if place == 0 and count > 1 and name.isupper() and len(name) > 2:
        suggestion = suggestion or "; write e.g. EUR"
        return f"{quoted(name)} in {quoted(text)} is not a currency of ISO 4217{suggestion}"
    return f"{quoted(name)} is not a unit that is known here{suggestion}"


def _nearest(name: str) -> str | None:
    """Give the known name at most one slip away: a letter more, less, other, swapped, of the other case."""
    table, folded = _slips(), name.casefold()
    # Of two letters, one slip makes anything.
    variants = _variants(folded) if len(name) > 2 else (folded,)
    found = [table[variant] for variant in variants if variant in table]
    if not name.isupper():
        found = [known for known in found if known in NAMES or known.casefold() == folded]
    return min(found, key=lambda known: (known.casefold() != folded, abs(len(known) - len(name))), default=None)


@lru_cache(maxsize=1)
def _slips() -> Mapping[str, str]:
    """Index every known name by itself and by itself with one letter left out.

    A table and not a search: a hostile file can hold a hundred thousand unknown units.
    """
    table: dict[str, str] = {}
    names = [*unit_names(), *sorted(currencies())]
    for name in names:
        table.setdefault(name.casefold(), name)
    for name in names:
        for variant in _variants(name.casefold()):
            if len(variant) > 1:
                table.setdefault(variant, name)
    return table


def _variants(name: str) -> Iterator[str]:
    yield name
    for place in range(len(name)):
        yield name[:place] + name[place + 1 :]
