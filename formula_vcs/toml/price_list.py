"""Read a price list: [[price]] rows with the quantity and the day from which each is in force."""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.amount import Price
from formula_vcs.model.facts import Path, Unread
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker, wrong_kind

PRICE: Final = "price"


def price_list(cost: Taker, least: Taker) -> Taker:
    """Take an array of prices as one fact, in an order of their own; ``least`` takes a quantity break."""
    known: dict[str, Taker] = {"cost": cost, "from": least, "since": takers.day}

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
            wrong_kind(sheet, path, raw, f"an array of tables, [[{path[-1]}]],")
            return
        prices: dict[Any, Price] = {}
        for position, row in enumerate(raw, 1):
            price = _price(sheet, (*path, str(position)), row, known)
            if price is None:
                continue
            name = price_rank(price)
            if name in prices:
                words = f"[[price]] number {position} is for the same quantity and day as an earlier one"
                sheet.refuse((*path, str(position), "again"), row, words)
            else:
                prices[name] = price
        sheet.put(path, tuple(prices[name] for name in sorted(prices)))

    return take


def price_rank(price: Price) -> tuple[str, Fraction, datetime.date]:
    """Order prices by what they mean, so that their spelling and their order in the file do not count."""
    since = price.since if isinstance(price.since, datetime.date) else datetime.date.min
    return ("", Fraction(0), since) if price.least is None else (price.least.dimension, price.least.base, since)


def _price(sheet: FactReader, path: Path, row: dict[str, Any], known: dict[str, Taker]) -> Price | None:
    part = FactReader()
    takers.table(known, required=("cost",), where=f"[[price]] number {path[-1]}")(part, path, row)
    if any(isinstance(value, Unread) for value in part.facts.values()):
        sheet.facts.update({key: value for key, value in part.facts.items() if isinstance(value, Unread)})
        return None
    least, since = (part.facts.get((*path, name)) for name in ("from", "since"))
    return Price(part.facts[*path, "cost"], least, since, int(path[-1]))


def row_of(price: Price) -> dict[str, Any]:
    """Give a price as a row of a file."""
    row: dict[str, Any] = {"cost": price.cost.text}
    row |= {} if price.least is None else {"from": price.least.text}
    return row if price.since is None else {**row, "since": price.since}
