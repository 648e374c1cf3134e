"""Formulas of a sheet into recipes: hidden rows, fractions, masses, the total; the recipe on file, or a new one."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from formula_vcs.sheets.answers import TableOutcome
from formula_vcs.sheets.cell_values import decimal_text
from formula_vcs.sheets.find_tables import TableColumn
from formula_vcs.sheets.formula_rows import SheetCharge, SheetFormula, formulas_of
from formula_vcs.sheets.grid import exact
from formula_vcs.sheets.header_words import fold
from formula_vcs.sheets.list_reader import alike, quantity_of
from formula_vcs.sheets.match_names import NameMatch
from formula_vcs.sheets.new_material import add_material, names_without_amounts, option_for
from formula_vcs.sheets.table_job import TableJob
from formula_vcs.sheets.write_tables import says
from formula_vcs.words.quoting import quoted

_MASSES: Final = frozenset({"g", "kg", "mg", "lb", "oz"})
_NEAR_HUNDRED: Final = Decimal("0.005")


def take_formulas(job: TableJob) -> None:
    """Write the formulas of a table into the draft; what is unclear goes into the outcome."""
    for column, formula in formulas_of(job):
        if any(question.key in ("decimal", "column.pct") for question in job.out.questions):
            return
        _into(formula, column, job)


def _into(formula: SheetFormula, column: TableColumn, job: TableJob) -> None:
    if formula.path and not formula.known:
        job.out.doubt(formula.place, f"{formula.path} is on file and does not parse; mend it first")
        return
    charges = _decided(formula, job)
    scale = None if charges is None else _scale(formula, charges, job)
    if charges is None or scale is None:
        return
    mode = _mode(formula, charges, column, job)
    known = formula.known.get("amounts", "percent") if formula.path else mode
    if mode is None:
        return
    if mode != known:
        job.out.doubt(formula.place, f"{formula.path} is written by {known}, the sheet by {mode}; it was left as it is")
        return
    _check_total(formula, charges, job.out)
    _Writer(formula, mode, scale, job).write(charges)


def _decided(formula: SheetFormula, job: TableJob) -> list[SheetCharge] | None:
    """Leave hidden and struck rows out or take them, as told, or as the stated total proves."""
    doubtful = [charge for charge in formula.charges if charge.doubtful]
    if not doubtful:
        return formula.charges
    choice = job.told("hidden") or _proved(formula)
    if not choice:
        places = ", ".join(f"{c.line.subject.text[:30]} ({c.doubtful}, row {c.line.row})" for c in doubtful[:5])
        job.ask(
            "hidden",
            f"'{formula.title}': do hidden or struck-through rows count? {places}",
            "--hidden take or --hidden leave",
            ("take", "leave"),
            formula.place,
        )
        return None
    for charge in doubtful:
        words = f"{quoted(charge.line.subject.text)} is {charge.doubtful}"
        if choice == "leave":
            job.out.leave(job.table.at(charge.line.subject), words)
    return [charge for charge in formula.charges if choice == "take" or not charge.doubtful]


def _proved(formula: SheetFormula) -> str:
    """Say "take" or "leave" where the numbers make the stated total only with, or only without, the doubtful rows."""
    if any(charge.said.kind != "number" for charge in formula.charges):
        return ""
    total = formula.total[1].number if formula.total is not None and formula.total[1].kind == "number" else Decimal(100)
    whole = sum((charge.said.number for charge in formula.charges), Decimal(0))
    without = sum((charge.said.number for charge in formula.charges if not charge.doubtful), Decimal(0))
    if whole == without:
        return ""
    return "take" if whole == total else "leave" if without == total else ""


def _scale(formula: SheetFormula, charges: list[SheetCharge], job: TableJob) -> int | None:
    """Say by how many places numbers move to be percentages: 2 of fractions, where a person said so; -4 of ppm."""
    numbers = [charge.said for charge in charges if charge.said.kind == "number"]
    if formula.unit.lower() in ("ppm", "mg/kg"):
        return -4
    if any(value.unit for value in numbers) or formula.unit.lower() in _MASSES:
        return 0
    total = sum((value.number for value in numbers), Decimal(0))
    balance = next((charge.said.number for charge in charges if charge.said.kind == "balance"), None)
    if balance == 1 or (balance is None and len(numbers) > 1 and abs(total - 1) <= Decimal("0.001")):
        told = job.told("fractions")
        if told in ("yes", "no"):
            return 2 if told == "yes" else 0
        job.ask(
            "fractions",
            f"the amounts of '{formula.title}' add up to {total:f}: are they fractions (0.05 for 5 %)?",
            "--fractions yes or --fractions no",
            ("yes", "no"),
            formula.place,
        )
        return None
    return 0


def _mode(formula: SheetFormula, charges: list[SheetCharge], column: TableColumn, job: TableJob) -> str | None:
    """Say what the amounts are: percent, parts or mass, by the head's unit, as told, by the cells' units or the sum."""
    unit = formula.unit.strip().lower()
    if "%" in unit or unit in ("w/w", "m/m") or column.role in ("pct", "inci_pct"):
        return "percent"
    unit = unit or job.told("unit.amount")
    if unit in ("%", "parts"):
        return "percent" if unit == "%" else "parts"
    if unit in _MASSES:
        formula.unit = unit
        return "mass"
    mode = _mode_by_rows(charges, column) or (str(formula.known.get("amounts", "percent")) if formula.path else "")
    if mode:
        return mode
    job.ask(
        "unit.amount",
        f"column {quoted(column.head)} of '{formula.title}' has no unit: %, g, kg or parts?",
        "--unit amount=UNIT",
        ("%", "g", "kg", "parts"),
        formula.place,
    )
    return None


def _mode_by_rows(charges: list[SheetCharge], column: TableColumn) -> str:
    """Say what amounts are by the units in the rows, the sum, or the word "parts" in the head."""
    numbers = [charge for charge in charges if charge.said.kind == "number"]
    units = {charge.line.text("unit").lower() or charge.said.unit.lower() for charge in numbers}
    if units and "" not in units:
        return "percent" if units == {"%"} else "mass" if units <= _MASSES else ""
    if any(word in fold(column.head) for word in ("parts", "teile", "parti", "partes")):
        return "parts"
    total = sum((charge.said.number for charge in numbers), Decimal(0))
    balance = any(charge.said.kind == "balance" and charge.said.number == 100 for charge in charges)
    return "percent" if balance or total == 100 else ""


def _check_total(formula: SheetFormula, charges: list[SheetCharge], out: TableOutcome) -> None:
    """Hold the rows against the total that the sheet states: a row that was not seen would show here."""
    if formula.total is None or any(charge.said.kind in ("balance", "open", "unclear") for charge in charges):
        return
    stated = formula.total[1].number
    found = sum((charge.said.number for charge in charges), Decimal(0))
    if abs(stated - found) > _NEAR_HUNDRED:
        out.doubt(formula.total[0], f"the sheet's total is {stated:f}, its rows add up to {found:f}")


class _Writer:
    """Puts one formula of a sheet into a recipe: the one on file, or a new one."""

    def __init__(self, formula: SheetFormula, mode: str, scale: int, job: TableJob) -> None:
        self.formula = formula
        self.mode = mode
        self.scale = scale
        self.job = job
        self.out = job.out
        self.path = formula.path
        self.old = formula.on_file()
        self.first: dict[tuple[str, str], SheetCharge] = {}
        self.phases: dict[str, dict[str, Any]] = {}

    def write(self, charges: list[SheetCharge]) -> None:
        if not self.path:
            data: dict[str, Any] = {"title": self.formula.title}
            if self.mode != "percent":
                data["amounts"] = self.mode
            made = self.job.draft.add("recipe", self.formula.id or self.formula.title, data)
            self.path = self.job.draft.ids("recipe")[made]
        for charge in charges:
            self.out.rows += 1
            self._charge(charge)
        data_now = self.job.draft.data(self.path)
        if data_now is not None:
            changed = self._merge(data_now)
            self.out.same += sum(map(len, self.phases.values())) - changed

    def _charge(self, charge: SheetCharge) -> None:
        ingredient, several = self._ingredient(charge)
        phase = charge.phase or self._phase_on_file(ingredient)
        amount = self._amount(charge, self.old.get(phase, {}).get(ingredient))
        name = charge.line.subject.text
        place = self.job.table.at(charge.cell)
        if amount is None:
            words = charge.said.why or "has no unit that a recipe can have"
            self.out.doubt(place, f"{quoted(name)}: the amount {words}")
            if ingredient in self.old.get(phase, {}):
                self.phases.setdefault(phase, {})[ingredient] = self.old[phase][ingredient]
            else:
                self._comment(f"phase {phase}, {quoted(name)} is missing: {place} {words}")
        elif not ingredient:
            fits = f"several ingredients fit: {', '.join(several[:5])}"
            self._comment(f"phase {phase}, {quoted(name)} = {quoted(str(amount))} is missing: {fits}")
        elif (phase, ingredient) in self.first:
            row = self.first[phase, ingredient].line.row
            words = f"{quoted(name)} stands twice in phase {phase} (row {row} too): add them up, or use two phases"
            self.out.doubt(place, words)
            self._comment(f"{words}; row {charge.line.row} says {quoted(str(amount))}")
        else:
            self.first[phase, ingredient] = charge
            self.phases.setdefault(phase, {})[ingredient] = amount

    def _ingredient(self, charge: SheetCharge) -> tuple[str, tuple[str, ...]]:
        """Give the ingredient of a row: in the recipe, on file, or new; nothing where several may be meant."""
        own = charge.line.text("id")
        here = {name for charges in self.old.values() for name in charges}
        if own and own in here:
            return own, ()
        match = self.job.matcher.find(charge.line)
        in_recipe = [name for name in match.several if name in here]
        if len(in_recipe) == 1:
            match = NameMatch(in_recipe[0], "as in the recipe on file")
        if match.id:
            self.out.mapping.append((charge.line.subject.text, f"{match.id} ({match.how})"))
            return match.id, ()
        return _new_ingredient(charge, match, self.job), match.several

    def _phase_on_file(self, ingredient: str) -> str:
        found = [phase for phase, charges in self.old.items() if ingredient in charges]
        return found[0] if found else next(iter(self.old), "A")

    def _comment(self, words: str) -> None:
        self.job.draft.comment(self.path, f"import: {words}")

    def _amount(self, charge: SheetCharge, before: Any) -> Any:
        """Give the amount as a recipe writes it, as it stands where the cell says just that; None where unclear."""
        inner = before.get("pct", before.get("amount")) if isinstance(before, dict) else before
        if isinstance(inner, str) and says(charge.cell.text, inner):
            return inner
        return _amount(charge, (self.mode, self.scale), self.formula)

    def _merge(self, data: dict[str, Any]) -> int:
        """Put the sheet's charges in the place of those on file; gives how many are new or another amount."""
        changed = 0
        tables = data.get("phase")
        old = tables if isinstance(tables, dict) else {}
        merged: dict[str, Any] = {}
        for name in dict.fromkeys([*old, *self.phases]):
            phase = dict(old.get(name, {}))
            before = self.old.get(name, {})
            charges = {key: value for key, value in before.items() if key in self.phases.get(name, {})}
            changed += self._merge_phase(name, before, charges)
            if self.formula.phases.get(name) and not phase.get("title"):
                phase["title"] = self.formula.phases[name]
            if charges != before or name not in old:
                phase["charge"] = charges
            if charges or (name in old and not before):
                merged[name] = phase
        data["phase"] = merged
        return changed

    def _merge_phase(self, name: str, before: Mapping[str, Any], charges: dict[str, Any]) -> int:
        changed = 0
        for ingredient, amount in self.phases.get(name, {}).items():
            if ingredient in before and _alike(before[ingredient], amount):
                continue
            changed += 1
            charges[ingredient] = _in_place(before.get(ingredient), amount)
            was = f"{_shown(before[ingredient])} becomes " if ingredient in before else "new, "
            place = self.job.table.at(self.first[name, ingredient].cell)
            self.out.take(place, f"{self.path}: {name}/{ingredient} {was}{_shown(amount)}")
        for ingredient in before:
            if ingredient not in self.phases.get(name, {}):
                words = f"{self.path}: {name}/{ingredient} goes: it is not on the sheet"
                self.out.take(self.formula.place, words)
        return changed


def _in_place(before: Any, amount: Any) -> Any:
    if not isinstance(before, dict):
        return amount
    key = "amount" if "amount" in before else "pct"
    return {**before, key: amount}


def _alike(before: Any, amount: Any) -> bool:
    """Say whether an amount on file is what the sheet says, as far as a sheet can say it: 15 digits."""
    value = before.get("pct", before.get("amount")) if isinstance(before, dict) else before
    if isinstance(value, (int, Decimal)) and not isinstance(value, bool) and isinstance(amount, Decimal):
        return Decimal(value) == amount or exact(float(value)) == amount
    if isinstance(value, str) and isinstance(amount, str):
        one, other = (quantity_of(text, ("mass", "volume")) for text in (value, amount))
        same_text = " ".join(value.split()).casefold() == " ".join(amount.split()).casefold()
        return same_text or (one is not None and other is not None and alike(one, other))
    return False


def _shown(value: Any) -> str:
    inner = value.get("pct", value.get("amount")) if isinstance(value, dict) else value
    return (
        quoted(inner) if isinstance(inner, str) else f"{inner} %" if isinstance(inner, (int, Decimal)) else str(inner)
    )


def _amount(charge: SheetCharge, how: tuple[str, int], formula: SheetFormula) -> Any:
    """Give the amount as a recipe writes it; None where it is unclear."""
    mode = how[0]
    value = charge.said
    if value.kind == "open":
        return "q.s."
    if value.kind == "balance":
        if mode == "mass":
            unit = value.unit or formula.unit.lower()
            return f"to {value.number:f} {unit}" if unit in _MASSES else None
        return "to 100" if mode == "percent" else f"to {value.number:f}"
    if value.kind != "number":
        return None
    if mode == "mass":
        unit = charge.line.text("unit") or value.unit or formula.unit
        return f"{value.number:f} {unit}" if unit else None
    if value.unit and value.unit != "%":
        return None
    number = value.number.scaleb(how[1])
    return decimal_text(number, 2) if mode == "percent" else decimal_text(number)


def _new_ingredient(charge: SheetCharge, match: NameMatch, job: TableJob) -> str:
    """Make a file for a material that is not on file yet; nothing where several on file may be meant."""
    line = charge.line
    if match.several:
        name = line.subject.text
        words = f"{quoted(name)} may be {', '.join(match.several[:5])}: which one?"
        job.ask(f"name:{name}", words, option_for(name, "ID"), match.several, job.table.at(line.subject))
        return ""
    made = add_material(line, match, job)
    names_without_amounts(line, job.draft.ids("ingredients")[made], job)
    return made
