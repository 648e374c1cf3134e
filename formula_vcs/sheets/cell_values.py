"""What a cell says: a number, an amount, a date, a unit.  Nothing is guessed: what is unclear says why."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from decimal import Decimal
from typing import Final

from formula_vcs.batches.weighings_csv import decimal_mark, marked_number
from formula_vcs.model.values import dataclass
from formula_vcs.sheets.grid import SheetCell, fraction_of_percent
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted

_NUMBER: Final = late_pattern(
    r"(?P<sign>[+\u2212-]?)\s*(?P<money>€|\$|£|EUR|USD|GBP|CHF)?\s*(?P<number>\d[\d.,'\u00a0\u202f ]*)\s*"
    r"(?P<unit>[A-Za-z\u00b5%€$£/][^\d]{0,24}(?:\d{0,3}[^\d]{0,8})?)?",
    re.IGNORECASE,
)
_FILL: Final = (
    r"(?:q\.?\s*[sb]\.?\s*p?\.?\s*|c\.?\s*s\.?\s*p\.?\s*|quantum satis\s*)?(?:ad|add|to|auf|bis|zu|a|à|al|hasta|up to|"
    r"fill(?:ed)? (?:up )?to|auffullen auf|auffüllen auf|pour|para|per|fino a|completare a|jusqu'?a|jusqu'?à)"
)
_BALANCE: Final = late_pattern(rf"{_FILL}\s*(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unit>%|g|kg)?", re.IGNORECASE)
_BALANCE_SHORT: Final = late_pattern(
    r"(?:q\.?\s*s\.?\s*p\.?|c\.?\s*s\.?\s*p\.?|q\.?\s*[sb]\.?)\s*(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unit>%|g|kg)?",
    re.IGNORECASE,
)
_REST: Final = frozenset({"rest", "balance", "bal", "remainder", "ad", "reste", "resto", "restante", "saldo", "bal."})
_OPEN: Final = late_pattern(
    r"q\.?\s*s\.?|q\.?\s*b\.?|c\.?\s*s\.?|quantum\s+satis|as needed|nach bedarf|n\.?\s*b\.?|au besoin|segun necesidad|"
    r"quanto basta|q\.?\s*s\.?\s*p\.?",
    re.IGNORECASE,
)
_ISO: Final = late_pattern(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ].*)?")
_ISO_WITHIN: Final = late_pattern(r"\d{4}-\d{1,2}-\d{1,2}")
_DAY_FIRST: Final = late_pattern(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})")
_WORDED: Final = late_pattern(
    r"(\d{1,2})(?:\.|st|nd|rd|th|er)?\s+(?:de\s+|of\s+)?([^\W\d]{3,10})\.?,?\s+(?:de\s+)?(\d{4})"
)
# The first letters of months in English, German, French, Spanish, Italian; no two months share one.
_MONTHS: Final = (
    ("jan", "ene", "gen"), ("feb", "fev", "fév"), ("mar", "mär", "mae"), ("apr", "avr", "abr"), ("may", "mai", "mag"),
    ("jun", "juin", "giu"), ("jul", "juil", "lug"), ("aug", "aou", "aoû", "ago"), ("sep", "set"),
    ("oct", "okt", "ott"), ("nov",), ("dec", "dez", "déc", "dic"),
)  # fmt: skip
_SPAN: Final = late_pattern(
    r"(?P<low>\d+(?:[.,]\d+)?)\s*%?\s*(?:-|\u2013|to|bis|à|a)\s*(?P<high>\d+(?:[.,]\d+)?)\s*%?", re.IGNORECASE
)
_BOUND: Final = late_pattern(
    r"(?:(?P<most>[<\u2264]=?|max\.?|at most|up to)|[>\u2265]=?|min\.?|at least)\s*(?P<end>\d+(?:[.,]\d+)?)\s*%?",
    re.IGNORECASE,
)
_SECOND: Final = late_pattern(r"%?\s*(?:to|or|bis|oder|a|à|ou|o|and|und|-|\u2013)\s*\d", re.IGNORECASE)
_SLASHES: Final = late_pattern(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})")


@dataclass(frozen=True, slots=True)
class SaidAmount:
    """What a cell says as an amount.

    ``kind`` is "number", "balance" (``number`` is what it fills up to), "open" (q.s.), "empty", or "unclear" with the
    reason in ``why``.
    """

    kind: str
    number: Decimal = Decimal(0)
    unit: str = ""
    why: str = ""


def mark_of(cells: Iterable[SheetCell], told: str = "") -> str:
    """Say which decimal mark the texts among cells use: "." or ",", or "?" where that is not certain.

    ``told`` is what a person said; it decides only what the cells leave open.
    """
    texts = [cell.value for cell in cells if isinstance(cell.value, str) and any(c.isdigit() for c in cell.value)]
    numbers = [found["number"] for text in texts if (found := _NUMBER.fullmatch(text.strip())) is not None]
    marked = [number.strip() for number in numbers if "." in number or "," in number]
    if not marked:
        return "."
    if told:
        return told
    mark = decimal_mark(marked)
    if mark == "?" or all(_either(number) for number in marked):
        return "?"
    return mark


def _either(number: str) -> bool:
    """Say whether a number may be a thousand or a little more than one: "1,250"."""
    return re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", number) is not None


def said(cell: SheetCell, mark: str) -> SaidAmount:
    """Read an amount; numbers shown as percent are the percentage, with the unit "%"."""
    if cell.trouble:
        return SaidAmount("unclear", why=f"is {cell.trouble}")
    value = cell.value
    if isinstance(value, bool):
        return SaidAmount("unclear", why="is true or false and no number")
    if isinstance(value, (datetime.date, datetime.time)):
        return SaidAmount("unclear", why=f"is a date or time ({value}): the sheet made one of a number")
    if isinstance(value, Decimal):
        if value < 0:
            return SaidAmount("unclear", why=f"is negative, {value:f}")
        return SaidAmount("number", fraction_of_percent(value) if cell.percent else value, "%" if cell.percent else "")
    return _of_text(cell.text, mark)


def is_amount(cell: SheetCell) -> bool:
    """Say whether a cell holds an amount, whatever its decimal sign."""
    return any(said(cell, mark).kind in ("number", "balance") for mark in (".", ","))


def said_share(cell: SheetCell) -> str | None:
    """Read the range of a share in % as suppliers print it, and write it as an ingredient's file does.

    :returns: None where the cell is no range, or one upside down, of a single number, or above 100.

    >>> [said_share(SheetCell(1, 1, text)) for text in ("28-32 %", "<5", ">= 95 %", "32-28")]
    ['28 to 32', 'at most 5', 'at least 95', None]
    """
    text = cell.text.strip()
    if cell.trouble or not isinstance(cell.value, str):
        return None
    bound, span = _BOUND.fullmatch(text), _SPAN.fullmatch(text)
    read = [marked_number(end, _own_mark(end)) for end in _ends(bound, span) if not _either(end)]
    found = [end for end in read if end is not None]
    if len(found) == 1 and bound is not None and found[0] <= 100:
        return f"at {'most' if bound['most'] else 'least'} {decimal_text(found[0]):f}"
    if len(found) == 2 and found[0] < found[1] <= 100:
        return f"{decimal_text(found[0]):f} to {decimal_text(found[1]):f}"
    return None


def _ends(bound: re.Match[str] | None, span: re.Match[str] | None) -> tuple[str, ...]:
    if bound is not None:
        return (bound["end"],)
    return () if span is None else (span["low"], span["high"])


def _of_text(text: str, mark: str) -> SaidAmount:
    if not text or text in ("-", "–", "—"):
        return SaidAmount("empty")
    for form in (_BALANCE, _BALANCE_SHORT):
        found = form.fullmatch(text)
        if found is not None:
            return SaidAmount("balance", Decimal(found["number"].replace(",", ".")), (found["unit"] or "").lower())
    if text.casefold() in _REST:
        return SaidAmount("balance", Decimal(100))
    if _OPEN.fullmatch(text):
        return SaidAmount("open")
    number = _NUMBER.fullmatch(text)
    if number is None:
        return SaidAmount("unclear", why=f"says {quoted(text)}, and that is no one number")
    if number["unit"] and _SECOND.match(number["unit"]):
        return SaidAmount("unclear", why=f"says {quoted(text)}, and that is no one number")
    if number["sign"] in ("-", "\u2212"):
        return SaidAmount("unclear", why=f"is negative, {quoted(text)}")
    return _marked(text, number, mark)


def _marked(text: str, number: re.Match[str], mark: str) -> SaidAmount:
    digits = number["number"].strip()
    unit = f"{number['money'] or ''}{(number['unit'] or '').strip()}"
    if mark == "?" and not _one_way(digits):
        words = "can be read in two ways: say which sign is the decimal one with --decimal"
        return SaidAmount("unclear", why=f"says {quoted(text)}, which {words}")
    value = marked_number(digits, _own_mark(digits) if mark == "?" else mark)
    if value is None:
        return SaidAmount("unclear", why=f"says {quoted(text)}, and the others have '{mark}' as their decimal sign")
    return SaidAmount("number", value, unit)


def _one_way(digits: str) -> bool:
    """Say whether a number reads only one way, whatever its decimal mark."""
    return "." not in digits and "," not in digits


def _own_mark(digits: str) -> str:
    return "," if "," in digits and "." not in digits else "."


def day_of(cell: SheetCell) -> datetime.date | str | None:
    """Read a date; a text says why it is none, None where the cell is empty.

    Day and month of "03/04/2026" could be either: only where one of them is over 12 it is read.
    """
    value = cell.value
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    if cell.trouble:
        return f"is {cell.trouble}"
    if cell.empty:
        return None
    return day_in(cell.text)


def day_in(text: str) -> datetime.date | str:
    """Read a date out of a text that is one; a text says why it is none."""
    worded = _WORDED.fullmatch(text)
    if worded is not None:
        text = _with_month(worded) or text
    iso, dotted, slashed = _ISO.fullmatch(text), _DAY_FIRST.fullmatch(text), _SLASHES.fullmatch(text)
    try:
        if iso is not None:
            return datetime.date(int(iso[1]), int(iso[2]), int(iso[3]))
        if dotted is not None:
            return datetime.date(int(dotted[3]), int(dotted[2]), int(dotted[1]))
        if slashed is not None:
            first, second, year = (int(part) for part in slashed.groups())
            if first <= 12 and second <= 12 and first != second:
                return f"says {quoted(text)}: day or month first? Write it like 2026-04-03"
            day, month = (second, first) if second > 12 else (first, second)
            return datetime.date(year, month, day)
    except ValueError:
        pass
    return f"says {quoted(text)}, which is no date; write it like 2026-04-03"


def _with_month(found: re.Match[str]) -> str:
    name = found[2].casefold()
    starts = {start: number for number, names in enumerate(_MONTHS, 1) for start in names}
    months = {number for start, number in starts.items() if name.startswith(start)}
    if name.startswith(("juin", "juil")):
        months = {6 if name.startswith("juin") else 7}
    return f"{found[3]}-{months.pop()}-{found[1]}" if len(months) == 1 else ""


def day_within(text: str) -> datetime.date | None:
    """Find the one date that stands in a text; None where there is none, or more than one.

    >>> day_within("Preisliste gültig ab 1.1.2027"), day_within("prices from 1 January 2027 on")
    (datetime.date(2027, 1, 1), datetime.date(2027, 1, 1))
    """
    parts = [form.search(text) for form in (_WORDED, _ISO_WITHIN, _DAY_FIRST)]
    days = {day for part in parts if part is not None and isinstance(day := day_in(part[0]), datetime.date)}
    return days.pop() if len(days) == 1 else None


def decimal_text(number: Decimal, places: int = 0) -> Decimal:
    """Give a number with at least some decimals and no zeros behind them that say nothing.

    >>> decimal_text(Decimal("5"), 2), decimal_text(Decimal("0.3000"), 2)
    (Decimal('5.00'), Decimal('0.30'))
    """
    short = number.normalize()
    exponent = short.as_tuple().exponent
    wanted = -exponent if isinstance(exponent, int) and exponent < -places else places
    return Decimal(f"{short:.{wanted}f}")
