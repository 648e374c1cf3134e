"""The rows of formulas on a sheet: where amounts stand, which formula a row is of, phases however they are shown."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from typing import Any, Final

from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.sheets.answers import TableOutcome
from formula_vcs.sheets.cell_values import SaidAmount, mark_of, said
from formula_vcs.sheets.draft import Draft
from formula_vcs.sheets.find_tables import FoundTable, TableColumn, TableLine, headlines
from formula_vcs.sheets.grid import SheetCell
from formula_vcs.sheets.header_words import NO_TITLES, TITLES, fold, header_of, is_total
from formula_vcs.sheets.table_job import TableJob
from formula_vcs.sheets.write_tables import says
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted, slug

_PHASE: Final = late_pattern(
    r"^(?:phase|fase|teil|part|partie|parte|ph\.?)\s*[:.]?\s*(?P<name>[A-Za-z]{1,2}\d?|\d{1,2}|[IVX]{1,4})\b"
    r"\s*[-–—:.,)]*\s*(?P<title>.*)$",
    re.IGNORECASE,
)
_BARE_PHASE: Final = late_pattern(r"^(?P<name>[A-Z]\d?|\d{1,2}|[IVX]{1,4})\s*(?:[-–—:.)]+\s*(?P<title>.*))?$")
_DEFAULT_SHEET: Final = late_pattern(r"(?:sheet|tabelle|feuil|hoja|foglio|blatt|table)\s*\d*", re.IGNORECASE)


@dataclass
class SheetCharge:
    """One row of a formula: its phase, what it means, and how much; ``amount`` is None where that is unclear."""

    line: TableLine
    cell: SheetCell
    phase: str
    said: SaidAmount
    doubtful: str = ""


@dataclass
class SheetFormula:
    """One formula of a sheet before it becomes a recipe; ``path`` and ``known`` are those of the recipe on file."""

    title: str
    place: str
    id: str = ""
    path: str = ""
    known: Mapping[str, Any] = field(default_factory=dict)
    charges: list[SheetCharge] = field(default_factory=list)
    phases: dict[str, str] = field(default_factory=dict)
    total: tuple[str, SaidAmount] | None = None
    unit: str = ""

    def on_file(self) -> dict[str, dict[str, Any]]:
        """Give the charges on file by phase."""
        phases = self.known.get("phase")
        if not isinstance(phases, dict):
            return {}
        found = {name: phase.get("charge") for name, phase in phases.items() if isinstance(phase, dict)}
        return {name: charges if isinstance(charges, dict) else {} for name, charges in found.items()}

    def titles(self) -> dict[str, str]:
        """Give the titles of phases on file."""
        phases = self.known.get("phase")
        found = phases.items() if isinstance(phases, dict) else ()
        return {name: str(phase["title"]) for name, phase in found if isinstance(phase, dict) and "title" in phase}


def formulas_of(job: TableJob) -> list[tuple[TableColumn, SheetFormula]]:
    """Read the formulas of a table, each with the column that its amounts stand in."""
    table, out = job.table, job.out
    columns = _amount_columns(job)
    if not columns:
        out.doubt(f"{table.grid.name}!{table.head_row}", "no column with amounts was found below these heads")
        return []
    title = _title(table, job.book)
    if len(columns) > 1:
        named = {column.number: _name_above(table, column) or _head_name(column) for column in columns}
        found = []
        for column in columns:
            formula = SheetFormula(
                named[column.number], f"{table.grid.name}!{SheetCell(table.head_row, column.number).place}"
            )
            found += [(column, one) for one in _by_recipe(column, formula, job)]
        return found
    formula = SheetFormula(title, f"{table.grid.name}!{SheetCell(table.head_row, columns[0].number).place}")
    return [(columns[0], one) for one in _by_recipe(columns[0], formula, job)]


def _amount_columns(job: TableJob) -> list[TableColumn]:
    """Choose the columns that amounts stand in: % before masses; several where each is a formula of its own."""
    table, out = job.table, job.out
    for role in ("pct", "amount"):
        found = [column for column in table.columns if column.role == role]
        filled = [column for column in found if any(not _cell(table, line, column).empty for line in table.lines)]
        if len(filled) > 1 and not _distinct(table, filled):
            names = " and ".join(f"{column.head} ({SheetCell(1, column.number).place[:-1]})" for column in filled)
            job.ask(
                "column.pct",
                f"two columns may hold the amounts: {names}; which one does?",
                "--column pct=HEAD",
                tuple(column.head for column in filled),
                f"{table.grid.name}!{table.head_row}",
            )
            return filled[:1]
        if found:
            for other in table.columns:
                if role == "pct" and other.role in ("amount", "target"):
                    out.leave(
                        f"{table.grid.name}!{SheetCell(table.head_row, other.number).place}",
                        f"column {quoted(other.head)}: the percentages are taken",
                    )
            return filled or found
    targets = [column for column in table.columns if column.role in ("target", "weighed", "inci_pct")]
    if targets:
        return targets[:1]
    return [column for column in table.columns if not column.role and _amounts_in(table, column)]


def _distinct(table: FoundTable, columns: list[TableColumn]) -> bool:
    """Say whether columns of one role are formulas beside each other: each with a name of its own above it."""
    names = [_name_above(table, column) for column in columns]
    return all(names) and len(set(names)) == len(names)


def _amounts_in(table: FoundTable, column: TableColumn) -> bool:
    """Say whether an unknown column holds a formula: numbers or balances that make 100."""
    values = [
        said(_cell(table, line, column), mark_of(_cell(table, other, column) for other in table.lines))
        for line in table.lines
        if not is_total(line.subject.text)
    ]
    numbers = [value.number for value in values if value.kind == "number"]
    total = sum(numbers, Decimal(0))
    balance = any(value.kind == "balance" for value in values)
    return bool(numbers) and (balance or abs(total - 100) <= 2) and total <= 102


def _cell(table: FoundTable, line: TableLine, column: TableColumn) -> SheetCell:
    return line.cells[table.columns.index(column)]


def _head_name(column: TableColumn) -> str:
    return re.sub(r"\s*[(\[]?%[^)\]]*[)\]]?\s*$", "", column.head).strip() or column.head


def _name_above(table: FoundTable, column: TableColumn) -> str:
    for cell in reversed(table.above):
        if cell.row == table.head_row - 1 and cell.column <= column.number < cell.column + max(cell.columns, 1):
            return cell.text
    return ""


def _by_recipe(column: TableColumn, formula: SheetFormula, job: TableJob) -> list[SheetFormula]:
    """Split rows by a column that names the formula, where there is one."""
    table = job.table
    mark = mark_of((_cell(table, line, column) for line in table.lines), job.told("decimal"))
    if mark == "?":
        words = f"is ',' or '.' the decimal sign in column {quoted(column.head)}?"
        job.ask("decimal", words, "--decimal , or --decimal .", (",", "."), formula.place)
        return []
    reader = _Rows(table, column, mark, job.out)
    names = table.column("recipe")
    if names is None:
        found = _looked_up(formula, job.draft)
        reader.read(found, table.lines)
        return [found]
    current = ("", "")
    groups: dict[tuple[str, str], list[TableLine]] = {}
    for line in table.lines:
        own = (line.text("recipe_id"), line.text("recipe") or _covering(table, line, names))
        current = own if any(own) else current
        groups.setdefault(current, []).append(line)
    formulas = []
    for (id_, title), lines in groups.items():
        one = _looked_up(SheetFormula(title or formula.title, formula.place, id_), job.draft)
        reader.read(one, lines)
        formulas.append(one)
    return formulas


def _looked_up(formula: SheetFormula, draft: Draft) -> SheetFormula:
    """Give the formula with the recipe on file that it is: by its id, else by its title."""
    for name, path in draft.ids("recipe").items():
        if formula.id and name != formula.id:
            continue
        if not formula.id and name == slug(formula.title):
            return replace(formula, path=path, known=draft.data(path) or {})
        data = draft.data(path)
        title = "" if data is None else data.get("title", "")
        if formula.id or (isinstance(title, str) and title and fold(title) == fold(formula.title)):
            return replace(formula, path=path, known=data or {})
    return formula


def _covering(table: FoundTable, line: TableLine, column: TableColumn) -> str:
    cell = table.grid.covered.get((line.row, column.number))
    return cell.text if cell is not None else ""


class _Rows:
    """Reads the rows of one formula: phases as a column, as headings, or by colour."""

    def __init__(self, table: FoundTable, column: TableColumn, mark: str, out: TableOutcome) -> None:
        self.table = table
        self.column = column
        self.mark = mark
        self.out = out
        self.legend = _legend(table)

    def read(self, formula: SheetFormula, lines: Iterable[TableLine]) -> None:
        phase = ""
        formula.unit = self.column.unit
        for line in lines:
            amount = _cell(self.table, line, self.column)
            value = said(amount, self.mark)
            if self._total(formula, line, value):
                continue
            heading = self._heading(formula, line, value)
            if heading is not None:
                phase = heading
                continue
            if all(cell.empty for cell in line.cells):
                continue
            own = self._own_phase(formula, line)
            phase = own or phase
            if not line.subject.text and value.kind == "empty":
                continue
            if not line.subject.text:
                self.out.doubt(self.table.at(amount), f"{quoted(amount.text)} stands in a row without a name")
                continue
            if value.kind == "empty" and self._merged(line):
                above = self.table.grid.covered[line.row, self.column.number]
                value = SaidAmount(
                    "unclear", why=f"shares the merged cell {above.place} with other rows: whose is the number?"
                )
            if amount.rows > 1 and value.kind in ("number", "balance") and self._names_below(line, amount):
                value = SaidAmount(
                    "unclear", why=f"is merged over {amount.rows} rows with a material each: whose is the number?"
                )
            if value.kind == "empty":
                self._no_amount(line, amount)
                continue
            doubtful = "hidden" if line.row in self.table.grid.hidden_rows else ""
            doubtful = doubtful or ("struck through" if line.subject.struck or amount.struck else "")
            formula.charges.append(SheetCharge(line, amount, phase, value, doubtful))

    def _no_amount(self, line: TableLine, amount: SheetCell) -> None:
        if self.column.role or len([cell for cell in line.cells if not cell.empty]) > 1:
            others = [column for column in self.table.columns if column.role == self.column.role]
            if len(others) > 1 or not self.column.role:
                return  # formulas beside each other: a material that this one does not have
            self.out.leave(self.table.at(line.subject), f"{quoted(line.subject.text)} has no amount")
        else:
            self.out.leave(self.table.at(line.subject), f"{quoted(line.subject.text)}: words without an amount")
        del amount

    def _merged(self, line: TableLine) -> bool:
        return (line.row, self.column.number) in self.table.grid.covered

    def _names_below(self, line: TableLine, amount: SheetCell) -> bool:
        rows = range(line.row + 1, line.row + amount.rows)
        return any(other.row in rows and other.subject.text for other in self.table.lines)

    def _total(self, formula: SheetFormula, line: TableLine, value: SaidAmount) -> bool:
        if line.text("id"):
            return False
        words = [cell for cell in line.cells if isinstance(cell.value, str) and is_total(cell.text)]
        if not words and (line.subject.text or value.kind != "number" or self._others(line)):
            return False
        if not words and line is not self.table.lines[-1]:
            return False
        if value.kind == "number":
            formula.total = (self.table.at(_cell(self.table, line, self.column)), value)
        place = words[0] if words else _cell(self.table, line, self.column)
        self.out.leave(self.table.at(place), f"{quoted(place.text)}: a total, worked out again from the rows")
        return True

    def _others(self, line: TableLine) -> bool:
        return any(
            not cell.empty
            for column, cell in zip(self.table.columns, line.cells, strict=True)
            if column is not self.column and column.role not in ("amount", "target", "price")
        )

    def _heading(self, formula: SheetFormula, line: TableLine, value: SaidAmount) -> str | None:
        """Read a row that names a phase and holds nothing else; None where the row is none."""
        filled = [cell for cell in line.cells if not cell.empty]
        if value.kind == "number" and len(filled) == 2 and _PHASE.match(filled[0].text) and not line.text("id"):
            filled = filled[:1]  # a heading with the sum of its phase
        elif value.kind != "empty" or not filled or self._merged(line):
            return None
        words = " ".join(cell.text for cell in filled)
        found = _PHASE.match(words)
        alone = len(filled) == 1 and isinstance(filled[0].value, str)
        if found is None and alone:
            found = _BARE_PHASE.match(words)
        if found is None and len(filled) == 2 and self._letter_beside(filled[0], filled[1]):
            found = _PHASE.match(f"phase {filled[0].text} {filled[1].text}")
        if found is not None and len(filled) <= 2:
            name = self._key(formula, _phase_name(found["name"]))
            formula.phases.setdefault(name, (found["title"] or "").strip())
            return name
        if alone and self._is_words(filled[0], line):
            return self._titled(formula, words)
        return None

    def _letter_beside(self, first: SheetCell, second: SheetCell) -> bool:
        """Say whether "A | Water phase" is a heading: in a column of numbers, or of phases that only headings fill."""
        if not isinstance(first.value, str) or not re.fullmatch(r"[A-Z]|[IVX]{1,4}", first.text):
            return False
        if not isinstance(second.value, str):
            return False
        column = next(column for column in self.table.columns if column.number == first.column)
        if column.role != "phase":
            return column.role in ("position", "")
        both = [
            line for line in self.table.lines if line.text("phase") and not _cell(self.table, line, self.column).empty
        ]
        return not both

    def _key(self, formula: SheetFormula, name: str) -> str:
        """Give the phase on file that is called so, in its own spelling; else the name."""
        return next((own for own in formula.on_file() if own.casefold() == name.casefold()), name)

    def _titled(self, formula: SheetFormula, words: str) -> str:
        """Give the phase of a title: one on file or seen already, else the next letter."""
        known = {**formula.titles(), **{key: title for key, title in formula.phases.items() if title}}
        found = next((key for key, title in known.items() if says(words, title)), None)
        heading = found or _next_letter({*formula.on_file(), *formula.phases})
        formula.phases.setdefault(heading, words)
        return heading

    def _is_words(self, cell: SheetCell, line: TableLine) -> bool:
        """Say whether a lone cell is a heading: it spans columns, or names a phase in words and is not INCI only."""
        wide = cell.columns > 1
        rows = [other for other in self.table.lines if other.row > line.row]
        follows = bool(rows) and not all(c.empty for c in rows[0].cells)
        words = fold(cell.text)
        named = any(
            word in words.split() or word in words for word in ("phase", "fase", "teil", "wasserphase", "olphase")
        )
        return follows and (wide or named)

    def _own_phase(self, formula: SheetFormula, line: TableLine) -> str:
        cell = line.cell("phase")
        column = self.table.column("phase")
        text = cell.text
        if not text and column is not None:
            text = _covering(self.table, line, column)
        if not text and column is None:
            text = self._by_colour(line)
        if not text:
            return ""
        own = next((name for name in formula.on_file() if says(text, name)), None)
        if own is not None:
            return own
        found = _PHASE.match(text) or _BARE_PHASE.match(text)
        if found is None and not re.fullmatch(r"[A-Za-z0-9]{1,3}", text):
            return self._titled(formula, text)
        name = self._key(formula, text if found is None else _phase_name(found["name"]))
        title = "" if found is None else (found["title"] or "").strip()
        formula.phases[name] = formula.phases.get(name) or title or line.text("phase_title")
        return name

    def _by_colour(self, line: TableLine) -> str:
        fills = [cell.fill for cell in line.cells if cell.fill]
        return next((self.legend[fill] for fill in fills if fill in self.legend), "")


def _legend(table: FoundTable) -> dict[str, str]:
    """Find what the colours of rows mean: cells of the same colour outside the table, with the phase's name."""
    rows = {line.row for line in table.lines}
    columns = {column.number for column in table.columns}
    used = {cell.fill for line in table.lines for cell in line.cells if cell.fill}
    found: dict[str, str] = {}
    for cell in table.grid.cells.values():
        outside = cell.row not in rows or cell.column not in columns
        if outside and cell.row != table.head_row and cell.fill in used and isinstance(cell.value, str) and cell.text:
            found.setdefault(cell.fill, cell.text)
        elif outside and cell.fill in used and cell.empty:
            beside = table.grid.at(cell.row, cell.column + 1)
            if isinstance(beside.value, str) and beside.text and beside.column not in columns:
                found.setdefault(cell.fill, beside.text)
    return found


def _phase_name(name: str) -> str:
    return name.upper() if name.isalpha() else name


def _next_letter(phases: Collection[str]) -> str:
    return next(
        letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" + "".join(map(str, range(27, 60))) if letter not in phases
    )


def _title(table: FoundTable, book: str) -> str:
    """Name the formula: by "Product: ..." above it, by the line of words nearest above, by the sheet, by the file."""
    above = headlines(table)
    pair = above.find(TITLES)
    if pair is not None:
        return pair[1].text
    alone = [cell for cell in above.alone if cell.text and header_of(cell.text) is None]
    named = [cell for cell in alone if len(cell.text) > 2 and not _PHASE.match(cell.text)]
    named = [cell for cell in named if fold(cell.text) not in NO_TITLES and not is_total(cell.text)]
    if named:
        return named[-1].text if named[-1].row == table.head_row - 1 or len(named) > 3 else named[0].text
    if not _DEFAULT_SHEET.fullmatch(table.grid.name) and table.grid.name:
        return table.grid.name
    return book.rsplit(".", 1)[0]
