"""Reading lists of materials: numbers by column, materials by their names, and values that are on file already."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from formula_vcs.model.quantity import Quantity
from formula_vcs.sheets.cell_values import SaidAmount, mark_of, said
from formula_vcs.sheets.find_tables import TableLine
from formula_vcs.sheets.grid import SheetCell, exact
from formula_vcs.sheets.header_words import NUMBERS
from formula_vcs.sheets.new_material import option_for
from formula_vcs.sheets.table_job import TableJob
from formula_vcs.units import unit_reading
from formula_vcs.words.quoting import quoted


class ListReader:
    """What all lists have in common: numbers by column, materials by their names, what is said of them."""

    def __init__(self, job: TableJob) -> None:
        self.job = job
        self.table = table = job.table
        self.draft = job.draft
        self.out = job.out
        told = job.told("decimal")
        self.marks = {role: mark_of(table.cells(role), told) for role in table.roles & NUMBERS}
        known = {mark for mark in self.marks.values() if mark != "?"} - {"."}
        for role, mark in self.marks.items():
            if mark == "?" and len(known) == 1:
                self.marks[role] = known.copy().pop()  # another column of the same list decides
        if "?" in self.marks.values():
            heads = ", ".join(quoted(c.head) for c in table.columns if self.marks.get(c.role) == "?")
            job.ask(
                "decimal",
                f"is ',' or '.' the decimal sign in {heads}?",
                "--decimal , or --decimal .",
                (",", "."),
                table.grid.name,
            )

    def number(self, line: TableLine, role: str) -> SaidAmount:
        cell = line.cell(role)
        value = said(cell, self.marks.get(role, "."))
        if value.kind == "unclear":
            self.out.doubt(
                self.table.at(cell), f"{quoted(self._head(role))} of {quoted(line.subject.text)} {value.why}"
            )
        return value

    def _head(self, role: str) -> str:
        column = self.table.column(role)
        return role if column is None else column.head

    def skipped(self, line: TableLine) -> bool:
        """Say whether a row is none of a material: empty, a total, hidden or struck through."""
        if all(cell.empty for cell in line.cells):
            return True
        if line.total:
            self.out.leave(self.table.at(line.subject), f"{quoted(line.subject.text)}: a total")
            return True
        hidden = line.row in self.table.grid.hidden_rows
        if hidden or line.subject.struck:
            choice = self.job.told("hidden")
            words = f"{quoted(line.subject.text)} is {'hidden' if hidden else 'struck through'}"
            if not choice:
                self.job.ask(
                    "hidden",
                    f"do hidden or struck-through rows count? {words}",
                    "--hidden take or --hidden leave",
                    ("take", "leave"),
                    self.table.at(line.subject),
                )
            if choice != "take":
                self.out.leave(self.table.at(line.subject), words)
                return True
        return False

    def material(self, line: TableLine, *, make: bool) -> tuple[str, dict[str, Any] | None]:
        """Give path and data of the material of a row: on file, or new where that is wanted."""
        match = self.job.matcher.find(line)
        name = line.subject.text
        if match.several:
            self.job.ask(
                f"name:{name}",
                f"{quoted(name)} may be {', '.join(match.several[:5])}: which one?",
                option_for(name, "ID"),
                match.several,
                self.table.at(line.subject),
            )
            return "", None
        if not match.id and not make:
            near = f"; near: {match.near}, say {option_for(name, match.near)}" if match.near else ""
            self.out.leave(self.table.at(line.subject), f"{quoted(name)} is none of the ingredients on file{near}")
            return "", None
        made = match.id or self.draft.add("ingredients", line.text("id") or name, {"title": line.text("name") or name})
        path = self.draft.ids("ingredients")[made]
        if not match.id:
            self.out.take(self.table.at(line.subject), f"{path} is new{f'; near: {match.near}' if match.near else ''}")
            if match.near:
                self.draft.comment(
                    path,
                    f"import: is this {match.near}? Then take this file out and say {option_for(name, match.near)}",
                )
        else:
            self.out.mapping.append((name, f"{match.id} ({match.how})"))
        data = self.draft.data(path)
        if data is None:
            self.out.doubt(self.table.at(line.subject), f"{path} does not parse; mend it first")
        return path, data

    def set(self, file: tuple[str, dict[str, Any]], key: str, value: Any, cell: SheetCell) -> None:
        """Set a value of a file where it is another one, and say so."""
        path, data = file
        before = data.get(key)
        if before == value:
            return
        data[key] = value
        words = _becomes(key, before, value)
        self.out.take(self.table.at(cell), f"{path}: {words}")


def _becomes(key: str, before: Any, value: Any) -> str:
    if before is None:
        return f"{key} = {shown_value(value)}"
    return f"{key}: {shown_value(before)} becomes {shown_value(value)}"


def same_number(before: Any, number: Decimal) -> bool:
    """Say whether a number on file is what a sheet says, as far as a sheet can say it: 15 digits."""
    if isinstance(before, bool) or not isinstance(before, (int, Decimal)):
        return False
    return Decimal(before) == number or exact(float(before)) == number


def set_inner(
    reader: ListReader, inside: dict[str, Any], where: tuple[str, str, str], value: Any, cell: SheetCell
) -> None:
    """Set a value inside a table of a file, and say so; ``where`` is path, name and key."""
    path, shown, key = where
    before = inside.get(key)
    inside[key] = value
    words = _becomes(shown, before, value)
    reader.out.take(reader.table.at(cell), f"{path}: {words}")


def quantity_of(text: str, wants: tuple[str, ...]) -> Quantity | None:
    """Read a quantity of some kinds; None where it is none."""
    try:
        return unit_reading.read_quantity(text, wants)
    except unit_reading.QuantityError:
        return None


def alike(known: Quantity | None, found: Quantity) -> bool:
    """Say whether two quantities are one, as far as 15 digits can say it."""
    if known is None:
        return False
    if known == found:
        return True
    if known.dimension != found.dimension or known.currency != found.currency or not found.base:
        return False
    return abs(known.base / found.base - 1) < Fraction(1, 10**14)


def shown_value(value: Any) -> str:
    """Write a value of a file shortly."""
    if isinstance(value, dict):
        return f"{value.get('pct')} %" + (f", CAS {value['cas']}" if value.get("cas") else "")
    return (
        quoted(value)
        if isinstance(value, str)
        else ", ".join(map(str, value))
        if isinstance(value, list)
        else str(value)
    )


def _same_share(before: Any, share: Decimal | str) -> bool:
    return before == share if isinstance(share, str) else same_number(before, share)


def with_cas(before: Any, pct: Decimal | str, cas: str) -> Any:
    """Give a substance's value with another share, a number or a range, and CAS number, all else of it kept."""
    if isinstance(before, dict):
        value = {**before}
        if not _same_share(before.get("pct"), pct):
            value["pct"] = pct
        if cas and before.get("cas") != cas:
            value["cas"] = cas
        return value
    if _same_share(before, pct) and not cas:
        return before
    return {"pct": pct, "cas": cas} if cas else pct
