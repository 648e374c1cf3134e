"""Read plain TOML data into facts, strictly: what is not known is said, with the nearest known name.

A *taker* is a function ``(sheet, path, raw)`` that writes one fact, or several below its path, or says why not.
Nothing raises: a refused value stays in the facts as :class:`Unread`, so one run reports all of a file.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.amount import PartSpan
from formula_vcs.model.facts import Path, Unread
from formula_vcs.units import unit_reading
from formula_vcs.words.late_pattern import late_pattern

TEXT_LIMIT: Final = 20_000
NAME_LIMIT: Final = 200
DIGITS_LIMIT: Final = 30
MAGNITUDE_LIMIT: Final = Decimal(10) ** 9
ID: Final = late_pattern(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_FRACTION: Final = late_pattern(r"\s*(\d{1,20})\s*/\s*(\d{1,20})\s*")

_EXAMPLES: Final = {
    "time": '"8 min"',
    "temperature": '"72 degC"',
    "speed": '"6000 rpm"',
    "share": '"80 %"',
    "mass": '"45 kg"',
    "volume": '"75 mL"',
    "density": '"0.98 g/mL"',
    "price": '"4.80 EUR/kg"',
    "money": '"0.186 EUR"',
    "viscosity": '"18 Pa*s"',
    "length": '"28 mm"',
}


class FactReader:
    """The facts of one file as they are read."""

    def __init__(self) -> None:
        """Begin with no facts."""
        self.facts: dict[Path, Any] = {}

    def put(self, path: Path, value: Any) -> None:
        """Write a fact."""
        self.facts[path] = value

    def refuse(self, path: Path, raw: Any, message: str, rule: str = "bad-value") -> None:
        """Keep a value that cannot be used, with the reason."""
        self.facts[path] = Unread(plain(raw), message, rule)


Taker = Callable[[FactReader, Path, Any], None]

_WORD_BREAK: Final = late_pattern(r"[-_/ ]+")
_FEWEST: Final = 3  # letters that may begin a name
# What a value measured on the product is, by its name: in a spec, on a certificate, among the results of a batch.
_MEASURED: Final = {"pH": ("number",), "viscosity": ("viscosity",), "density": ("density",)}


def plain(raw: Any) -> Any:
    """Give TOML data in one spelling: numbers as Decimal, not-a-number as text, so that equal means equal."""
    if isinstance(raw, dict):
        return {key: plain(value) for key, value in raw.items()}
    if isinstance(raw, list):
        return [plain(value) for value in raw]
    if isinstance(raw, bool) or not isinstance(raw, int | Decimal):
        return raw
    if isinstance(raw, int):
        return Decimal(raw)
    return raw if raw.is_finite() else str(raw)


def nearest(name: str, known: Iterable[str]) -> str:
    """Give "; did you mean 'x'?" for the nearest known name, or nothing."""
    from difflib import get_close_matches

    # A hostile file can bring names of any length; the distance is quadratic in it.
    found = get_close_matches(name[:NAME_LIMIT].casefold(), {k.casefold(): None for k in known}, n=1, cutoff=0.6)
    if found:
        spelling = next(k for k in known if k.casefold() == found[0])
        return f"; did you mean '{spelling}'?"
    # the beginning of a name, or of a word in it: 'lip' of 'lip-balm'
    begun = [k for k in known if _WORD_BREAK.sub(" ", f" {k.casefold()}").find(f" {name.casefold()}") >= 0]
    return f"; did you mean '{min(begun, key=len)}'?" if begun and _FEWEST <= len(name) <= NAME_LIMIT else ""


def shown(raw: Any) -> str:
    """Write a raw value shortly for a message."""
    text = raw if isinstance(raw, str) else str(raw)
    return text if len(text) <= 60 else text[:57] + "..."


def kind_of(raw: Any) -> str:
    """Name the kind of a TOML value in plain words."""
    names: tuple[tuple[Any, str], ...] = (
        (bool, "true or false"),
        (str, "text"),
        (int | Decimal, "a number"),
        (list, "a list"),
        (dict, "a table"),
        (datetime.datetime, "a date with a time"),
        (datetime.date, "a date"),
    )
    return next((words for kind, words in names if isinstance(raw, kind)), "a value of another kind")


def wrong_kind(sheet: FactReader, path: Path, raw: Any, wanted: str) -> None:
    """Refuse a value of the wrong kind."""
    sheet.refuse(path, raw, f"'{path[-1]}' is {kind_of(raw)}; {wanted} is wanted here", "wrong-type")


def text(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a text."""
    if not isinstance(raw, str):
        wrong_kind(sheet, path, raw, 'a text in quotes, "..."')
    elif not raw.strip():
        sheet.refuse(path, raw, f"'{path[-1]}' is empty")
    elif len(raw) > TEXT_LIMIT:
        sheet.refuse(path, raw[:NAME_LIMIT], f"'{path[-1]}' is longer than {TEXT_LIMIT} characters")
    else:
        sheet.put(path, raw)


def one_of(*known: str) -> Taker:
    """Take one of a few words."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        if not isinstance(raw, str):
            wrong_kind(sheet, path, raw, "one of " + ", ".join(known))
        elif raw not in known:
            hint = nearest(raw, known) or f"; known: {', '.join(known)}"
            sheet.refuse(path, raw, f"'{path[-1]}': '{shown(raw)}' is not known{hint}")
        else:
            sheet.put(path, raw)

    return take


def yes_no(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take true or false."""
    if isinstance(raw, bool):
        sheet.put(path, raw)
    else:
        wrong_kind(sheet, path, raw, "true or false")


def day(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a date."""
    if isinstance(raw, datetime.date) and not isinstance(raw, datetime.datetime):
        sheet.put(path, raw)
    else:
        wrong_kind(sheet, path, raw, "a date without quotes, 2026-01-05,")


def exact(raw: Any) -> Decimal | str:
    """Give a bare TOML number as an exact decimal, or the reason why it is none."""
    if isinstance(raw, bool) or not isinstance(raw, int | Decimal):
        return f"{kind_of(raw)}; a bare number is wanted here"
    number = Decimal(raw)
    if not number.is_finite():
        return f"{raw}, which is no number"
    if number < 0:
        return "negative"
    if number > MAGNITUDE_LIMIT or len(number.as_tuple().digits) > DIGITS_LIMIT or number.adjusted() < -DIGITS_LIMIT:
        return "out of all proportion"
    return number


def number(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a number that is not negative."""
    value = exact(raw)
    if isinstance(value, str):
        sheet.refuse(path, raw, f"'{path[-1]}' is {value}", "bad-quantity")
    else:
        sheet.put(path, value)


def percent(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a bare number as %, 0 to 100."""
    value = exact(raw)
    if isinstance(value, str):
        sheet.refuse(path, raw, f"'{path[-1]}' is {value}", "bad-quantity")
    elif value > 100:
        sheet.refuse(path, raw, f"'{path[-1]}' is {value} %, more than the whole", "bad-quantity")
    else:
        sheet.put(path, value)


_PART: Final = late_pattern(r"(\d{1,12}(?:\.\d{1,20})?)(?:\s+to\s+(\d{1,12}(?:\.\d{1,20})?))?(?:\s*%)?")
_BOUND: Final = late_pattern(r"at\s+(most|least)\s+(\d{1,12}(?:\.\d{1,20})?)(?:\s*%)?")
_PRINTED: Final = late_pattern(
    r"(?:[<>\u2264\u2265]=?|max\.?|min\.?|ca\.?|about)?\s*[\d.]+\s*(?:[-\u2013]\s*[\d.]+)?\s*%?", re.IGNORECASE
)
_AS_PARTS: Final = '30, "28 to 32", "at most 1"'


def part(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a share in %, 0 to 100: a bare number, or a range in quotes as suppliers print it, "28 to 32"."""
    if not isinstance(raw, str):
        percent(sheet, path, raw)
        return
    found = _part(raw.strip())
    if isinstance(found, str):
        sheet.refuse(path, raw, f"'{shown(path[-1])}': '{shown(raw)}' {found}", "bad-quantity")
    else:
        sheet.put(path, found)


def filling_part(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a share as `part` does, or "to 100": what the other shares leave."""
    if isinstance(raw, str) and raw.split() == ["to", "100"]:
        sheet.put(path, PartSpan(None, None, raw.strip()))
    else:
        part(sheet, path, raw)


def _part(raw: str) -> Decimal | PartSpan | str:
    bound = _BOUND.fullmatch(raw)
    match = None if bound else _PART.fullmatch(raw)
    if bound:
        low, high = (Decimal(0), Decimal(bound[2])) if bound[1] == "most" else (Decimal(bound[2]), Decimal(100))
    elif match:
        low, high = Decimal(match[1]), Decimal(match[2] or match[1])
    else:
        printed = "; of a range as it is printed " if _PRINTED.fullmatch(raw) else "; "
        return f"is no share of the material{printed}write {_AS_PARTS}"
    if max(low, high) > 100:
        return f"is {max(low, high):f} %, more than the whole"
    if low > high:
        return f'is upside down; write "{high:f} to {low:f}"'
    return low if low == high else PartSpan(low, high, raw)


def index(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take an index from 0 to 1, a number or a fraction in quotes ("18/104")."""
    value: Fraction | None = None
    if isinstance(raw, str):
        match = _FRACTION.fullmatch(raw)
        if match and int(match[2]):
            value = Fraction(int(match[1]), int(match[2]))
    else:
        decimal = exact(raw)
        value = None if isinstance(decimal, str) else Fraction(decimal)
    if value is None:
        sheet.refuse(path, raw, f"'{path[-1]}' is no index; write 0.85 or \"18/104\"", "bad-quantity")
    elif value > 1:
        sheet.refuse(path, raw, f"'{path[-1]}' is {shown(raw)}; an index lies between 0 and 1", "bad-quantity")
    else:
        sheet.put(path, value)


def _wanted(dimensions: tuple[str, ...]) -> str:
    called = [(name, "sum of money" if name == "money" else name) for name in dimensions]
    examples = [f"{words}, e.g. {_EXAMPLES[name]}" if name in _EXAMPLES else words for name, words in called]
    return " or ".join(f"a {words}" for words in examples) or "a quantity"


def _measured(read: Callable[..., Any], dimensions: tuple[str, ...]) -> Taker:
    single = dimensions[0] if len(dimensions) == 1 else None

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        if not isinstance(raw, str):
            if single == "number" and not isinstance(exact(raw), str):
                raw = str(raw)
            else:
                bare = not isinstance(raw, bool) and isinstance(raw, int | Decimal)
                hint = f"'{path[-1]}' is a bare number; " if bare else f"'{path[-1]}' is {kind_of(raw)}; "
                rule = "bad-quantity" if bare else "wrong-type"
                sheet.refuse(path, raw, f"{hint}{_wanted(dimensions)}, in quotes, is wanted here", rule)
                return
        try:
            sheet.put(path, read(raw, dimensions or None))
        except unit_reading.QuantityError as bad:
            sheet.refuse(path, raw, f"'{path[-1]}': {bad.message}", "bad-quantity")

    return take


def quantity(*dimensions: str) -> Taker:
    """Take one quantity of one of some dimensions; of any, where none is named."""
    return _measured(unit_reading.read_quantity, dimensions)


def size(*dimensions: str) -> Taker:
    """Take one quantity that is more than nothing: a batch, a pack."""
    take = quantity(*dimensions)

    def some(sheet: FactReader, path: Path, raw: Any) -> None:
        take(sheet, path, raw)
        if getattr(sheet.facts.get(path), "base", None) == 0:
            sheet.refuse(path, raw, f"'{path[-1]}': '{shown(raw)}' is nothing", "bad-quantity")

    return some


def kinds_of(name: str) -> tuple[str, ...]:
    """Name the dimension that a value measured on the product has by its name; nothing where it may be any."""
    return _MEASURED.get(name, ())


def span(*dimensions: str) -> Taker:
    """Take a quantity or a range of one of some dimensions; of any, where none is named."""
    return _measured(unit_reading.read_range, dimensions)


def difference(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a difference of temperatures: "5 K" or "5 delta_degC", but not "5 degC", which is a temperature."""
    _measured(unit_reading.read_quantity, ("temperature difference", "temperature"))(sheet, path, raw)
    value = sheet.facts[path]
    if getattr(value, "dimension", "") == "temperature" and value.unit != "K":
        words = f"'{path[-1]}': '{shown(raw)}' is a temperature; a difference is written \"5 K\""
        sheet.refuse(path, raw, words, "bad-quantity")


def listed(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a list of texts whose order counts; one text stands for a list of one."""
    items = [raw] if isinstance(raw, str) else raw
    if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
        wrong_kind(sheet, path, raw, 'a list of texts, ["...", "..."],')
    else:
        sheet.put(path, tuple(items))


def members(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a list of texts as a set: each member is a fact of its own."""
    items = [raw] if isinstance(raw, str) else raw
    if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
        wrong_kind(sheet, path, raw, 'a list of texts, ["...", "..."],')
        return
    for item in items:
        name = item.strip()
        if not name:
            sheet.refuse((*path, "empty"), item, f"'{path[-1]}' holds an empty text")
            continue
        if (*path, name) in sheet.facts:
            sheet.refuse((*path, name, "again"), item, f"'{shown(item)}' stands twice in '{path[-1]}'")
        sheet.put((*path, name), True)


def table(known: Mapping[str, Taker], required: tuple[str, ...] = (), where: str = "") -> Taker:
    """Take a table of known keys."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        if not isinstance(raw, dict):
            wrong_kind(sheet, path, raw, "a table")
            return
        for key, value in raw.items():
            taker = known.get(key)
            if taker is None:
                unknown(sheet, (*path, key), value, known, where or _bracketed(path))
            else:
                taker(sheet, (*path, key), value)
        for key in required:
            if key not in raw:
                missing(sheet, path, key, where or _bracketed(path))

    return take


def each(taker: Taker) -> Taker:
    """Take a table whose keys are names of the writer's own."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        if not isinstance(raw, dict):
            wrong_kind(sheet, path, raw, "a table")
            return
        for key, value in raw.items():
            if len(key) > NAME_LIMIT or not key.strip():
                words = f"a name in {_bracketed(path)} is empty or longer than {NAME_LIMIT} characters"
                sheet.refuse((*path, key[:NAME_LIMIT]), plain(value), words)
            else:
                taker(sheet, (*path, key), value)

    return take


def rows(taker: Taker) -> Taker:
    """Take an array of tables; each row is known by its number, from 1."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
            wrong_kind(sheet, path, raw, f"an array of tables, [[{path[-1]}]],")
            return
        for position, row in enumerate(raw, 1):
            taker(sheet, (*path, str(position)), row)

    return take


def anything(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take any data as it stands."""
    sheet.put(path, plain(raw))


def unknown(sheet: FactReader, path: Path, raw: Any, known: Iterable[str], where: str) -> None:
    """Refuse a key that nobody knows."""
    names = sorted(known)
    place = f" in {where}" if where else ""
    hint = nearest(path[-1], names) or f"; known here: {', '.join(names)}"
    sheet.refuse(path, raw, f"unknown key '{shown(path[-1])}'{place}{hint}", "unknown-key")


def missing(sheet: FactReader, path: Path, key: str, where: str) -> None:
    """Say that a required key is not there."""
    place = f" in {where}" if where else ""
    sheet.refuse((*path, key), None, f"'{key}' is missing{place}", "missing-value")


def _bracketed(path: Path) -> str:
    return f"[{'.'.join(path)}]" if path else ""
