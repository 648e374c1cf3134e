"""Price lists: a new dated price for materials on file, with currency, measure, quantity break and day."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.quantity import Quantity
from formula_vcs.sheets.cell_values import SaidAmount, day_of, day_within, decimal_text
from formula_vcs.sheets.find_tables import TableLine, headlines
from formula_vcs.sheets.header_words import DATES, PER_PACK, fold
from formula_vcs.sheets.list_reader import ListReader, alike, quantity_of
from formula_vcs.sheets.table_job import TableJob
from formula_vcs.units import unit_reading
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.numbers import exact_text
from formula_vcs.words.quoting import quoted

_SIGNS: Final = {"€": "EUR", "$": "USD", "£": "GBP"}
_PRICE_UNIT: Final = late_pattern(
    r"(?P<money>€|\$|£|[A-Za-z]{3})?\s*(?:(?:/|\bper\b|\bpro\b|\bpar\b|\bpor\b|\bal\b|\bje\b)\s*(?P<count>\d+)?\s*"
    r"(?P<unit>kg|g|lb|oz|t|l|ml))?",
    re.IGNORECASE,
)


def take_prices(job: TableJob) -> None:
    """Write a price list into ingredients on file: a new dated price where it is another one."""
    reader = ListReader(job)
    if "decimal" in {question.key for question in job.out.questions}:
        return
    last: TableLine | None = None
    for row in job.table.lines:
        if reader.skipped(row):
            continue
        line = _of_material_above(row, last)
        if not line.subject.text:
            continue
        last = line
        job.out.rows += 1
        path, data = reader.material(line, make=False)
        if data is not None:
            before = repr(data)
            put_price(reader, line, path, data)
            job.out.same += repr(data) == before


def _of_material_above(line: TableLine, above: TableLine | None) -> TableLine:
    """Give a row of a quantity break, which names no material, with the names of the row above."""
    if line.subject.text or above is None or line.cell("least").empty:
        return line
    names = {role: cell for role, cell in above.by_role.items() if role in ("name", "code", "id", "inci")}
    own = {role: cell for role, cell in line.by_role.items() if not cell.empty}
    return TableLine(line.row, {**names, **own}, line.cells)


def put_price(reader: ListReader, line: TableLine, path: str, data: dict[str, Any]) -> None:
    """Put the price of a row into its material: a new dated one where it is another than what holds."""
    value = reader.number(line, "price")
    if value.kind != "number":
        if value.kind == "empty":
            reader.out.leave(reader.table.at(line.subject), f"{quoted(line.subject.text)} has no price")
        return
    unit = _price_unit(reader, line, value)
    if unit is None:
        return
    currency, count, measure = unit
    number = exact_text(Fraction(value.number) / count)
    if "/" in number:
        words = f"{value.number:f} {currency} for {exact_text(count)} {measure} is no exact price for one"
        reader.out.doubt(reader.table.at(line.cell("price")), words)
        return
    cost = f"{number} {currency}/{measure}"
    found = quantity_of(_money(cost), ("price", "price by volume"))
    if found is None:
        reader.out.doubt(reader.table.at(line.cell("price")), f"{quoted(cost)} is no price that can be read")
        return
    least = _least(reader, line)
    since = _since(reader, line)
    if least is None or since is False:
        return
    _put_price(reader, line, (path, data), (_money(cost), found), least, since)


def _money(cost: str) -> str:
    number, _, unit = cost.partition(" ")
    whole, point, places = number.partition(".")
    return f"{whole}.{places.ljust(2, '0')} {unit}" if point else f"{whole}.00 {unit}"


def _price_unit(reader: ListReader, line: TableLine, value: SaidAmount) -> tuple[str, Fraction, str] | None:
    """Give currency, count and measure of a price: by its cell, its row, its head, or as told."""
    cell = line.cell("price")
    column = reader.table.column("price")
    head = "" if column is None else column.head
    texts = [value.unit, _joined(line), "" if column is None else column.unit, head, reader.job.told("unit.price")]
    currency, measured = cell.currency, _pack(line, head)
    for text in texts:
        for found in _PRICE_UNIT.finditer(text or ""):
            money = (found["money"] or "").upper()
            money = _SIGNS.get(money, money)
            if not currency and money and unit_reading.is_currency(money):
                currency = money
            if found["unit"] and measured is None:
                measured = (Fraction(found["count"] or 1), found["unit"])
    if measured is None:
        measured = _bare(line.text("unit")) or ((Fraction(1), "kg") if re.search(r"kilo|\bkg\b", fold(head)) else None)
    if not currency or measured is None:
        lacking = " and ".join([*([] if currency else ["currency"]), *([] if measured else ["unit"])])
        reader.job.ask("unit.price", f"the prices have no {lacking}", "--unit price=EUR/kg", (), reader.table.at(cell))
        return None
    count, measure = measured
    if not count:
        reader.out.doubt(reader.table.at(cell), f"the price of {quoted(line.subject.text)} is for no quantity")
        return None
    return currency, count, {"l": "L", "ml": "mL"}.get(measure.lower(), measure.lower())


def _pack(line: TableLine, head: str) -> tuple[Fraction, str] | None:
    """Give what a pack holds where the price is for a pack."""
    return _bare(line.text("pack")) if any(word in fold(head) for word in PER_PACK) else None


def _bare(text: str) -> tuple[Fraction, str] | None:
    """Read "25 kg", or "kg" for one."""
    found = re.fullmatch(r"(\d+(?:[.,]\d{1,2})?)?\s*(kg|g|lb|oz|t|l|ml)", text, re.IGNORECASE)
    return None if found is None else (Fraction((found[1] or "1").replace(",", ".")), found[2])


def _joined(line: TableLine) -> str:
    per = line.text("per")
    return f"{line.text('currency')}{f'/{per}' if per else ''}"


def _least(reader: ListReader, line: TableLine) -> str | None:
    """Give the quantity from which a price holds: "" for any, None where it is unclear."""
    if "least" not in reader.table.roles:
        return ""
    value = reader.number(line, "least")
    if value.kind == "empty" or (value.kind == "number" and value.number == 0):
        return ""
    if value.kind != "number":
        return None
    unit = value.unit or reader.table.unit("least") or line.text("unit")
    found = quantity_of(f"{value.number:f} {unit}", ("mass", "volume"))
    if found is None:
        reader.out.doubt(
            reader.table.at(line.cell("least")),
            f"{value.number:f} {unit}".strip() + " is no quantity: its unit is missing",
        )
        return None
    return f"{decimal_text(value.number):f} {unit}"


def _since(reader: ListReader, line: TableLine) -> datetime.date | bool | None:
    """Give the day from which a price holds: its cell, the list's date, or as told; False where it is unclear."""
    found = day_of(line.cell("since")) if "since" in reader.table.roles else None
    if isinstance(found, str):
        reader.out.doubt(reader.table.at(line.cell("since")), f"the day of the price {found}")
        return False
    if found is not None:
        return found
    if reader.job.answers.since is not None:
        return reader.job.answers.since
    lines = headlines(reader.table)
    above = lines.find(DATES)
    if above is not None:
        day = day_of(above[1])
        if isinstance(day, datetime.date):
            return day
    dated = (cell for cell in lines.alone if any(f" {word} " in f" {fold(cell.text)} " for word in DATES))
    days = {day for cell in dated if (day := day_within(cell.text)) is not None}
    return days.pop() if len(days) == 1 else None


def _put_price(  # noqa: PLR0917 - a price in all its parts
    reader: ListReader,
    line: TableLine,
    file: tuple[str, dict[str, Any]],
    cost: tuple[str, Quantity],
    least: str,
    since: datetime.date | bool | None,
) -> None:
    path, data = file
    rows = data.get("price")
    rows = rows if isinstance(rows, list) else []
    cell = reader.table.at(line.cell("price"))
    same_break = [row for row in rows if isinstance(row, dict) and _same_break(row.get("from"), least)]
    on_day = [row for row in same_break if row.get("since") == since] if since is not None else []
    if on_day:
        known = _cost_of(on_day[0])
        if known is None or not alike(known, cost[1]):
            reader.out.take(
                cell, f"{path}: the price since {since} {quoted(str(on_day[0].get('cost')))} becomes {quoted(cost[0])}"
            )
            on_day[0]["cost"] = cost[0]
        return
    in_force = _in_force(same_break, since)
    known = None if in_force is None else _cost_of(in_force)
    if known is not None and alike(known, cost[1]):
        return
    undated = [row for row in same_break if "since" not in row] if since is None else []
    if any(_cost_of(row) is not None and alike(_cost_of(row), cost[1]) for row in undated):
        return
    if since is None and same_break:
        reader.job.ask(
            "since", "from which day on do the prices hold? The list does not say", "--since 2026-12-01", (), cell
        )
        return
    row: dict[str, Any] = {"cost": cost[0]}
    if least:
        row["from"] = least
    if isinstance(since, datetime.date):
        row["since"] = since
    data["price"] = [*rows, row]
    was = f", it was {in_force.get('cost')}" if in_force is not None else ""
    reader.out.take(
        cell, f"{path}: {cost[0]}{f' from {least}' if least else ''}{f' since {since}' if since else ''}{was}"
    )


def _cost_of(row: Mapping[str, Any]) -> Quantity | None:
    return quantity_of(str(row.get("cost", "")), ("price", "price by volume"))


def _same_break(known: Any, least: str) -> bool:
    if not known or not least:
        return not known and not least
    one, other = quantity_of(str(known), ("mass", "volume")), quantity_of(least, ("mass", "volume"))
    return one is not None and other is not None and alike(one, other)


def _in_force(rows: list[dict[str, Any]], since: datetime.date | bool | None) -> dict[str, Any] | None:
    """Give the price that holds on a day, or the last there is."""
    dated = [(_day(row), row) for row in rows]
    if isinstance(since, datetime.date):
        dated = [(day, row) for day, row in dated if day <= since]
    return max(dated, key=lambda pair: pair[0])[1] if dated else None


def _day(row: Mapping[str, Any]) -> datetime.date:
    since = row.get("since")
    return since if isinstance(since, datetime.date) else datetime.date.min
