"""Allergen statements: a list below the name of a material, a column that names it, or a column a material."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from formula_vcs.model.ingredient import inci_key
from formula_vcs.sheets.cell_values import decimal_text, mark_of, said
from formula_vcs.sheets.find_tables import FoundTable, TableColumn, TableLine, headlines
from formula_vcs.sheets.grid import SheetCell
from formula_vcs.sheets.header_words import MATERIALS
from formula_vcs.sheets.list_reader import ListReader, set_inner, with_cas
from formula_vcs.sheets.new_material import cas_of, option_for
from formula_vcs.sheets.table_job import TableJob
from formula_vcs.sheets.write_tables import says
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted

_BELOW: Final = late_pattern(
    r"^(?:<|≤|max\.?|n\.?\s*d\.?|nd|n/a|bdl|not detected|below|absent|traces?|spuren|nicht nachweisbar|nachweisgrenze|"
    r"non detect|non détect|no detectado|non rilevat)",
    re.IGNORECASE,
)


def take_allergens(job: TableJob) -> None:
    """Write allergen statements: one material above a list, a column that names it, or a column a material."""
    reader = ListReader(job)
    if "decimal" in {question.key for question in job.out.questions}:
        return
    table = job.table
    if table.roles & {"name", "id", "code"} and "allergen" in table.roles:
        _by_rows(reader)
        return
    role = next((r for r in ("pct", "amount", "inci_pct") if r in table.roles), "")
    if role:
        _one_statement(reader, role)
    else:
        _by_columns(reader)


def _by_rows(reader: ListReader) -> None:
    role = next((r for r in ("pct", "amount", "inci_pct") if r in reader.table.roles), "pct")
    material: tuple[str, dict[str, Any] | None] = ("", None)
    before: list[str] = []
    for line in reader.table.lines:
        if reader.skipped(line):
            continue
        names = [line.text(key) for key in ("id", "name", "code")]
        if any(names) and names != before:
            before = names
            material = reader.material(line, make=False)
        if material[1] is not None:
            reader.out.rows += 1
            _allergen(reader, material, line, line.cell(role), _unit_of(reader.table, role))


def _one_statement(reader: ListReader, role: str) -> None:
    above = headlines(reader.table)
    pair = above.find(MATERIALS)
    names = [pair[1]] if pair is not None else []
    names += [cell for cell in above.alone if cell not in names]
    for cell in names:
        match = reader.job.matcher.find_by(name=cell.text)
        if match.id:
            path = reader.draft.ids("ingredients")[match.id]
            reader.out.mapping.append((cell.text, f"{match.id} ({match.how})"))
            for line in reader.table.lines:
                if not reader.skipped(line):
                    reader.out.rows += 1
                    _allergen(
                        reader, (path, reader.draft.data(path)), line, line.cell(role), _unit_of(reader.table, role)
                    )
            return
        if match.several:
            reader.job.ask(
                f"name:{cell.text}",
                f"{quoted(cell.text)} may be {', '.join(match.several[:5])}: which one?",
                option_for(cell.text, "ID"),
                match.several,
                reader.table.at(cell),
            )
            return
    name = names[0].text if names else reader.table.grid.name
    words = f"of which ingredient is this the statement? {quoted(name)} is none on file"
    reader.job.ask(f"name:{name}", words, option_for(name, "ID"), (), reader.table.grid.name)


def _by_columns(reader: ListReader) -> None:
    for column in reader.table.columns:
        if column.role:
            continue
        match = reader.job.matcher.find_by(name=re.sub(r"\s*[(\[]?%[)\]]?$", "", column.head))
        place = f"{reader.table.grid.name}!{SheetCell(reader.table.head_row, column.number).place}"
        if not match.id:
            reader.out.leave(place, f"{quoted(column.head)} is none of the ingredients on file")
            continue
        path = reader.draft.ids("ingredients")[match.id]
        reader.out.mapping.append((column.head, f"{match.id} ({match.how})"))
        reader.marks[column.head] = mark_of(
            (_of(reader.table, line, column) for line in reader.table.lines),
            reader.job.told("decimal"),
        )
        for line in reader.table.lines:
            if not reader.skipped(line):
                reader.out.rows += 1
                _allergen(
                    reader,
                    (path, reader.draft.data(path)),
                    line,
                    _of(reader.table, line, column),
                    column.unit or reader.job.told("unit.pct"),
                    reader.marks[column.head],
                )


def _of(table: FoundTable, line: TableLine, column: TableColumn) -> SheetCell:
    return line.cells[table.columns.index(column)]


def _unit_of(table: FoundTable, role: str) -> str:
    return table.unit(role) or ("%" if role == "pct" else "")


def _allergen(  # noqa: PLR0917 - one cell and what it is about
    reader: ListReader,
    file: tuple[str, Mapping[str, Any] | None],
    line: TableLine,
    cell: SheetCell,
    unit: str,
    mark: str = "",
) -> None:
    path, data = file
    name = line.text("allergen") or line.text("inci") or line.text("name")
    if not isinstance(data, dict) or not name:
        return
    if isinstance(cell.value, str) and _BELOW.match(cell.text):
        reader.out.leave(
            reader.table.at(cell), f"{quoted(name)} says {quoted(cell.text)}: a bound or a trace is no content"
        )
        return
    role = next((key for key, other in line.by_role.items() if other is cell), "pct")
    value = said(cell, mark or reader.marks.get(role, "."))
    if value.kind == "empty":
        return
    if value.kind != "number":
        reader.out.doubt(reader.table.at(cell), f"{quoted(name)} {value.why or 'has no number'}")
        return
    measure = (value.unit or unit or line.text("unit")).lower()
    if measure in ("ppm", "mg/kg"):
        pct = value.number.scaleb(-4)
    elif "%" in measure:
        pct = value.number
    else:
        reader.job.ask(
            "unit.pct",
            "the contents have no unit: % or ppm?",
            "--unit pct=% or --unit pct=ppm",
            ("%", "ppm"),
            reader.table.at(cell),
        )
        return
    allergens = data.get("allergens", {})
    if not isinstance(allergens, dict):
        reader.out.doubt(reader.table.at(cell), f"[allergens] of {path} is no table; mend it first")
        return
    data["allergens"] = allergens
    own = next((key for key in allergens if says(name, key)), "")
    own = own or next((key for key in allergens if inci_key(key) == inci_key(name)), name)
    cas = cas_of(line, reader.job) if "cas" in reader.table.roles else ""
    now = with_cas(allergens.get(own), decimal_text(pct), cas)
    if now != allergens.get(own):
        set_inner(reader, allergens, (path, f"allergens.{own}", own), now, cell)
    else:
        reader.out.same += 1
