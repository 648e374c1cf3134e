"""Lists of raw materials: one row a material, or one row a substance of it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.ingredient import ORIGIN_INDICES, inci_key
from formula_vcs.sheets.cell_values import SaidAmount, decimal_text, said, said_share
from formula_vcs.sheets.find_tables import TableLine
from formula_vcs.sheets.grid import SheetCell, exact
from formula_vcs.sheets.header_words import fold, function_names
from formula_vcs.sheets.list_reader import ListReader, alike, quantity_of, same_number, set_inner, shown_value, with_cas
from formula_vcs.sheets.match_names import inci_names
from formula_vcs.sheets.new_material import cas_of, names_without_amounts
from formula_vcs.sheets.table_job import TableJob
from formula_vcs.sheets.take_prices import put_price
from formula_vcs.sheets.write_tables import says
from formula_vcs.words.quoting import quoted


def take_materials(job: TableJob) -> None:
    """Write a list of raw materials into the draft."""
    reader = ListReader(job)
    if "decimal" in {question.key for question in job.out.questions}:
        return
    for lines in _materials(reader):
        job.out.rows += len(lines)
        path, data = reader.material(lines[0], make=True)
        if data is None:
            continue
        before = repr(data)
        _words(reader, lines[0], path, data)
        _numbers(reader, lines[0], path, data)
        _substances(reader, lines, path, data)
        if "price" in job.table.roles:
            put_price(reader, lines[0], path, data)
        job.out.same += repr(data) == before


def _materials(reader: ListReader) -> Iterator[list[TableLine]]:
    """Group rows: a row without a name goes on with the substances of the one above, as does one that repeats it."""
    group: list[TableLine] = []
    for line in reader.table.lines:
        if reader.skipped(line):
            continue
        names = [line.text(role) for role in ("id", "name", "code")]
        own = any(names) or not reader.table.roles & {"id", "name", "code"}
        again = group and own and names == [group[0].text(role) for role in ("id", "name", "code")]
        if own and not (again and any(names)):
            if group:
                yield group
            group = []
        if not line.subject.text:
            continue
        if not own and not group:
            reader.out.doubt(
                reader.table.at(line.subject), f"{quoted(line.subject.text)} stands above the first material"
            )
            continue
        group.append(line)
    if group:
        yield group


def _words(reader: ListReader, line: TableLine, path: str, data: dict[str, Any]) -> None:
    title = line.text("name")
    if title and "id" in reader.table.roles and not says(title, data.get("title")):
        reader.set((path, data), "title", title, line.cell("name"))
    for key in ("supplier", "code"):
        text = line.text(key)
        if text and not says(text, data.get(key)):
            reader.set((path, data), key, text, line.cell(key))
    names = function_names(line.cell("function").lines)
    known = data.get("functions")
    known = [known] if isinstance(known, str) else known
    known = list(map(str, known)) if isinstance(known, list) else []
    if (
        names
        and not says(line.text("function"), "; ".join(known))
        and sorted(map(fold, known)) != sorted(map(fold, names))
    ):
        reader.set((path, data), "functions", names, line.cell("function"))


def _numbers(reader: ListReader, line: TableLine, path: str, data: dict[str, Any]) -> None:
    if "density" in reader.table.roles:
        _density(reader, line, path, data)
    for index in ORIGIN_INDICES:
        if index not in reader.table.roles:
            continue
        value = reader.number(line, index)
        if value.kind != "number":
            continue
        number = value.number.scaleb(-2) if value.unit == "%" or reader.table.unit(index) == "%" else value.number
        if number > 1:
            reader.out.doubt(
                reader.table.at(line.cell(index)),
                f"{index} is {number:f}; an index is 0 to 1 (ISO 16128), a share needs its %",
            )
            continue
        origin = data.setdefault("origin", {}) if isinstance(data.get("origin", {}), dict) else {}
        if not _same_index(origin.get(index), number):
            set_inner(reader, origin, (path, f"origin.{index}", index), decimal_text(number), line.cell(index))
    if data.get("origin") == {}:
        del data["origin"]


def _same_index(before: Any, number: Decimal) -> bool:
    if isinstance(before, str) and "/" in before:
        over, _, under = before.partition("/")
        try:
            return exact(float(Fraction(int(over), int(under)))) == number
        except (ValueError, ZeroDivisionError, OverflowError):
            return False
    return same_number(before, number)


_DENSITIES: Final = {
    "": "",
    "g/ml": "g/mL",
    "g/cm3": "g/mL",
    "g/cm³": "g/mL",
    "kg/l": "kg/L",
    "kg/m3": "kg/m^3",
    "kg/m³": "kg/m^3",
}


def _density(reader: ListReader, line: TableLine, path: str, data: dict[str, Any]) -> None:
    value = reader.number(line, "density")
    if value.kind != "number":
        return
    unit = value.unit or reader.table.unit("density") or reader.job.told("unit.density")
    spelled = _DENSITIES.get(unit.lower(), unit)
    if not spelled:
        reader.job.ask(
            "unit.density",
            "the densities have no unit",
            "--unit density=g/mL",
            ("g/mL", "kg/m^3"),
            reader.table.at(line.cell("density")),
        )
        return
    found = quantity_of(f"{decimal_text(value.number):f} {spelled}", ("density",))
    if found is None:
        reader.out.doubt(reader.table.at(line.cell("density")), f"{value.number:f} {unit} is no density")
        return
    known = quantity_of(str(data.get("density", "")), ("density",))
    if known is not None and alike(known, found):
        return
    reader.set((path, data), "density", f"{decimal_text(value.number):f} {spelled}", line.cell("density"))


def _substances(reader: ListReader, lines: list[TableLine], path: str, data: dict[str, Any]) -> None:
    if "inci" not in reader.table.roles:
        return
    role = "inci_pct" if "inci_pct" in reader.table.roles else "pct"
    known = data.get("substances")
    known = known if isinstance(known, dict) else {}
    if "recipe" in data:
        return  # a premix is made of its recipe
    found = dict(_stated(reader, lines, role, known))
    if not found:
        names_without_amounts(lines[0], path, reader.job)
        return
    folded = {inci_key(name): name for name in known}
    merged: dict[str, Any] = {}
    for name, (pct, cas, cell) in found.items():
        own = name if name in known else folded.get(inci_key(name), name)
        merged[own] = with_cas(known.get(own), pct, cas)
        if merged[own] != known.get(own):
            before = "" if own not in known else f"{shown_value(known[own])} becomes "
            reader.out.take(reader.table.at(cell), f"{path}: {quoted(own)} {before}{shown_value(merged[own])}")
    for name in known:
        if name not in merged:
            reader.out.take(reader.table.at(lines[0].subject), f"{path}: {quoted(name)} goes, it is not on the sheet")
    if list(merged) != list(known) or merged != known:
        ordered = {
            name: merged[name] for name in [*(n for n in known if n in merged), *(n for n in merged if n not in known)]
        }
        data["substances"] = ordered


def _numbers_of(reader: ListReader, line: TableLine, role: str, count: int) -> list[SaidAmount]:
    """Read the numbers of a row: one, or as many as the row names substances, "90; 10"."""
    if role not in reader.table.roles:
        return [SaidAmount("empty")] * max(count, 1)
    cell = line.cell(role)
    mark = reader.marks.get(role, ".")
    parts = re.split(r"\s*[;+]\s*|\s/\s", cell.lines) if isinstance(cell.value, str) and count > 1 else []
    if len(parts) == count:
        return [_share(SheetCell(cell.row, cell.column, part), mark) for part in parts]
    return [_share(cell, mark)]


def _share(cell: SheetCell, mark: str) -> SaidAmount:
    found = said(cell, mark)
    words = said_share(cell) if found.kind == "unclear" else None
    return found if words is None else SaidAmount("range", unit=words)


def _left_open(reader: ListReader, line: TableLine, role: str, name: str) -> None:
    cell = line.cell(role)
    if not cell.empty:
        words = f"the composition of {quoted(name)} is left: {quoted(cell.text)} gives no number for each substance"
        reader.out.doubt(reader.table.at(cell), words)


def _filled_up(numbers: list[SaidAmount]) -> list[Decimal | str] | None:
    """Give the share of each substance, one of them filling up to 100; None where that is not one amount each."""
    ranges = any(number.kind == "range" for number in numbers)
    stated = sum((number.number for number in numbers if number.kind == "number"), Decimal(0))
    fills = [number for number in numbers if number.kind == "balance"]
    if len(fills) > 1 or (fills and (fills[0].number != 100 or stated > 100)):
        return None
    rest: Decimal | str = "to 100" if ranges else decimal_text(100 - stated)
    return [
        number.unit if number.kind == "range" else decimal_text(number.number) if number.kind == "number" else rest
        for number in numbers
    ]


def _stated(
    reader: ListReader, lines: list[TableLine], role: str, known: Mapping[str, Any]
) -> Iterator[tuple[str, tuple[Decimal | str, str, SheetCell]]]:
    """Give INCI names with the % that the sheet states; one unclear number, and the whole composition is left."""
    found: list[tuple[str, SaidAmount, TableLine]] = []
    single: set[int] = set()
    for line in lines:
        text = line.text("inci")
        names = [own for own in known if says(text, own)][:1] or inci_names(line.cell("inci").lines)
        numbers = _numbers_of(reader, line, role, len(names))
        if (
            len(names) == 1
            and len(lines) == 1
            and numbers[0].kind == "empty"
            and reader.job.told("single_inci") == "100"
        ):
            numbers = [SaidAmount("number", Decimal(100))]
        found += [(name, number, line) for name, number in zip(names, numbers, strict=False)]
        single |= {line.row} if len(names) == 1 else set()
        if len(numbers) != len(names) or any(number.kind not in ("number", "range", "balance") for number in numbers):
            _left_open(reader, line, role, lines[0].subject.text)
            return
    counted = _filled_up([number for _, number, _ in found])
    if counted is None:
        _left_open(reader, lines[0], role, lines[0].subject.text)
        return
    seen: set[str] = set()
    for name, _, line in found:
        key = name if name in known else inci_key(name)
        if key in seen:
            reader.out.doubt(
                reader.table.at(line.cell("inci")),
                f"{quoted(name)} stands twice in {quoted(lines[0].subject.text)}; its composition is left",
            )
            return
        seen.add(key)
    for (name, _, line), pct in zip(found, counted, strict=True):
        cas = cas_of(line, reader.job) if line.row in single else ""
        yield name, (pct, cas, line.cell("inci"))
