"""Read a table of weighings as scales and spreadsheets export it: any separator, decimal commas, units where they are.

Nothing is guessed: what can be read in two ways, or not at all, is a problem with its line, and no row is left out in
silence.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from decimal import Decimal
from typing import Final

from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass
from formula_vcs.toml.syntax import LIMIT
from formula_vcs.units import unit_reading
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted

_SEPARATORS: Final = (";", "\t", ",", "|")
_MOST_ROWS: Final = 5000
_HEADER_WITHIN: Final = 30
# What a column may be called, folded: lower case, blanks for other signs.
_COLUMNS: Final[dict[str, frozenset[str]]] = {
    "charge": frozenset({
        "charge", "ingredient", "material", "raw material", "item", "article", "component", "name", "product", "id",
        "material id", "ingredient id", "article no", "item id",
    }),
    "weighed": frozenset({
        "weighed", "weight", "net", "net weight", "nett", "mass", "net mass", "actual", "actual weight", "weighed mass",
        "value", "result", "netto",
    }),
    "unit": frozenset({"unit", "units", "uom", "weight unit", "weighing unit", "einheit"}),
    "lot": frozenset({"lot", "lot no", "lot number", "lot id", "batch", "batch no", "batch number"}),
    "at": frozenset({"at", "time", "date", "timestamp", "date time", "datetime", "weighed at"}),
    "balance": frozenset({"balance", "scale", "scale id", "device", "balance id", "terminal"}),
    "by": frozenset({"by", "operator", "user", "weighed by", "initials"}),
    "phase": frozenset({"phase"}),
    "step": frozenset({"step"}),
}  # fmt: skip
_UNIT_IN_HEADER: Final = late_pattern(r"^(?P<name>.*?)[\s_]*(?:[(\[](?P<a>[A-Za-z]{1,3})[)\]]|_(?P<b>kg|g|mg|lb|oz))$")
_VALUE: Final = late_pattern(r"(?P<sign>[+\u2212-]?)\s*(?P<number>\d[\d.,'\u00a0\u202f ]*)\s*(?P<unit>[A-Za-z\u00b5]*)")
_SINGLE: Final = late_pattern(r"(?P<before>\d+)(?P<mark>[.,])(?P<after>\d+)")
_GROUPS: Final = late_pattern(r"[\u00a0\u202f ']")


@dataclass(frozen=True, slots=True)
class WeighingRow:
    """One weighing as the table has it: its line, what was weighed, how much, and what else the table says."""

    line: int
    charge: str
    weighed: Quantity
    lot: str = ""
    at: str = ""
    balance: str = ""
    by: str = ""
    phase: str = ""
    step: str = ""


@dataclass(frozen=True, slots=True)
class Problem:
    """What cannot be read, and in which line (0: the file as a whole); ``charge`` where the line names one."""

    line: int
    message: str
    charge: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table as read."""

    rows: tuple[WeighingRow, ...]
    problems: tuple[Problem, ...]


class _Unusable(ValueError):
    """The table as a whole cannot be read."""

    def __init__(self, message: str, line: int = 0) -> None:
        self.line = line
        super().__init__(message)


def read_weighings(data: bytes) -> Table:
    """Read a table of weighings; all that is wrong with it is in ``problems``."""
    try:
        text = _decoded(data)
        records, columns, unit = _records(text)
    except _Unusable as error:
        return Table((), (Problem(error.line, str(error)),))
    rows: list[WeighingRow] = []
    problems: list[Problem] = []
    mark = decimal_mark([record[columns["weighed"]] for _, record in records if len(record) > columns["weighed"]])
    seen: dict[tuple[str, ...], int] = {}
    for line, record in records:
        found = _row(line, record, columns, unit, mark)
        if isinstance(found, Problem):
            problems.append(found)
            continue
        key = tuple(cell.strip() for cell in record)
        if key in seen:
            words = f"repeats line {seen[key]} word for word; one of the two has to go"
            problems.append(Problem(line, words, found.charge))
            continue
        seen[key] = line
        rows.append(found)
    whole = text.endswith(("\n", "\r")) or not rows or rows[-1].line != records[-1][0]
    if not whole and _cut_off([record for _, record in records], columns["weighed"]):
        cut = rows.pop()
        problems.append(Problem(cut.line, "ends in a number shorter than the others: is the file cut off?", cut.charge))
    if not rows and not problems:
        problems.append(Problem(0, "holds no weighing"))
    return Table(tuple(rows), tuple(problems))


def _cut_off(records: list[list[str]], column: int) -> bool:
    """Say whether the last mass, the last thing in the file, has fewer decimals than all others, which are alike."""
    if len(records[-1]) != column + 1 or any(len(record) <= column for record in records):
        return False
    *others, last = [len(re.split("[.,]", record[column].strip())[-1]) for record in records]
    pointed = all(re.search(r"\d[.,]\d+$", record[column].strip()) for record in records[:-1])
    whole = re.search("[.,]", records[-1][column]) is None
    return bool(others) and pointed and len(set(others)) == 1 and (whole or last < others[0])


def _decoded(data: bytes) -> str:
    if len(data) > LIMIT:
        raise _Unusable(f"has more than {LIMIT // 1024 // 1024} MB")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise _Unusable("begins like UTF-16 and is none; is the file cut off?") from None
    if b"\0" in data:
        raise _Unusable("is binary, no table of text; export it as CSV")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")  # what old scales write; a name that it spoils is not found, and said


def _records(text: str) -> tuple[list[tuple[int, list[str]]], dict[str, int], str]:
    """Give the records below the header, each with its line, the columns by what they hold, and the header's unit."""
    lines = text.splitlines()
    for number, line in enumerate(lines[:_HEADER_WITHIN]):
        for separator in _SEPARATORS:
            header = _split(line, separator)
            columns, unit, twice = _columns(header)
            if "charge" in columns and "weighed" in columns:
                if twice:
                    raise _Unusable(f"two columns say '{twice}'; one of them has to go", number + 1)
                return _below(text, number, separator, len(header)), columns, unit
    first = next((line for line in lines if line.strip()), "")
    raise _Unusable(
        "no line names the columns: 'charge' (or material, item) and 'weighed' (or net, weight) are wanted; "
        f"it begins {quoted(first)}",
    )


def _split(line: str, separator: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator, strict=True), [])
    except csv.Error:
        return []


def _columns(header: list[str]) -> tuple[dict[str, int], str, str]:
    found: dict[str, int] = {}
    unit = twice = ""
    for position, cell in enumerate(header):
        name, stated = _header_cell(cell)
        kind = next((kind for kind, names in _COLUMNS.items() if name in names), None)
        if kind is None:
            continue
        if kind in found and kind != "at":
            twice = twice or kind
        found.setdefault(kind, position)
        if kind == "weighed" and found[kind] == position:
            unit = stated
    return found, unit, twice


def _header_cell(cell: str) -> tuple[str, str]:
    """Give a column's name folded, and the unit that it states: "Net (g)", "weight_kg"."""
    match = _UNIT_IN_HEADER.match(cell.strip())
    unit = (match["a"] or match["b"]) if match else ""
    name = match["name"] if match else cell
    return " ".join(re.sub(r"[^a-z0-9]+", " ", name.casefold()).split()), unit


def _below(text: str, header: int, separator: str, width: int) -> list[tuple[int, list[str]]]:
    """Give the records below the header; one that is cut off stands among them with too few cells."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    found: list[tuple[int, list[str]]] = []
    start = 0
    try:
        for record in reader:
            line, start = start + 1, reader.line_num
            if line > header + 1 and any(cell.strip() for cell in record):
                while len(record) > width and not record[-1].strip():
                    record.pop()
                found.append((line, record))
            if len(found) > _MOST_ROWS:
                raise _Unusable(f"has more than {_MOST_ROWS} rows")
    except csv.Error as error:
        words = f"cannot be read from here on ({error}): is a quote open, or the file cut off?"
        raise _Unusable(words, start + 1) from None
    if not found:
        raise _Unusable("names its columns and holds no weighing")
    return found


def _row(line: int, record: list[str], columns: dict[str, int], unit: str, mark: str) -> WeighingRow | Problem:
    last = max(columns.values())
    if len(record) <= last:
        words = f"has {len(record)} cells, the header has more: is the file cut off, or a cell missing?"
        return Problem(line, words, record[columns["charge"]].strip() if len(record) > columns["charge"] else "")
    cells = {name: record[position].strip() for name, position in columns.items()}
    if not cells["charge"]:
        return Problem(line, "does not say what was weighed")
    weighed = _mass(cells["weighed"], cells.get("unit", ""), unit, mark)
    if isinstance(weighed, str):
        return Problem(line, f"{quoted(cells['charge'])}: {weighed}", cells["charge"])
    more = {name: cells.get(name, "") for name in ("lot", "at", "balance", "by", "phase", "step")}
    return WeighingRow(line, cells["charge"], weighed, **more)


def _mass(cell: str, column: str, header: str, mark: str) -> Quantity | str:
    match = _VALUE.fullmatch(cell.strip())
    if match is None:
        return f"{quoted(cell)} is no mass" if cell.strip() else "nothing is written as its mass"
    if match["sign"] in ("-", "\u2212"):
        return f"{quoted(cell)} is negative"
    number = marked_number(match["number"], mark)
    if number is None:
        return f"{quoted(cell)} can be read in two ways; write one decimal mark and no thousands"
    said = [name for name in (match["unit"], column, header) if name]
    if not said:
        return f"{quoted(cell)} has no unit: a column 'unit', or 'Net (g)' as its name, would say it"
    try:
        masses = [unit_reading.read_quantity(f"{number:f} {name}", "mass") for name in said[:2]]
    except unit_reading.QuantityError as bad:
        return bad.message
    if len({mass.base for mass in masses}) > 1:
        return f"{quoted(cell)} says {said[0]}, and its column says {said[1]}"
    return masses[0]


def decimal_mark(cells: list[str]) -> str:
    """Say which mark the column uses: "," where commas stand and points do not, "?" where single marks are mixed."""
    certain: set[str] = set()
    likely: set[str] = set()
    for cell in cells:
        found = _SINGLE.search(cell)
        points, commas = cell.count("."), cell.count(",")
        if points and commas:
            certain.add("," if cell.rfind(",") > cell.rfind(".") else ".")
        elif found is not None and points + commas == 1:
            # "0.375" and "12.5" are clear; "1.251" may be a thousand or a little more than one
            clear = len(found["after"]) != 3 or found["before"] == "0"
            (certain if clear else likely).add(found["mark"])
    marks = certain or likely
    return "?" if len(marks) > 1 else next(iter(marks), ".")


def marked_number(text: str, mark: str) -> Decimal | None:
    """Read a number with one decimal mark; what else stands between digits has to group thousands."""
    plain = _GROUPS.sub("", text.strip())
    other = {",": ".", ".": ","}.get(mark, "")
    if mark == "?" and ("." in plain or "," in plain):
        return None
    whole, _, rest = plain.partition(mark)
    if mark in rest or other in rest:
        return None
    groups = whole.split(other) if other and other in whole else [whole]
    if len(groups) > 1 and (not 1 <= len(groups[0]) <= 3 or any(len(group) != 3 for group in groups[1:])):
        return None
    digits = "".join(groups)
    return Decimal(f"{digits}.{rest}" if rest else digits) if digits.isascii() and digits.isdigit() else None
