"""Read packs, and lists of prices."""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.amount import Price
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.quantity import Quantity
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker, missing, shown, wrong_kind
from formula_vcs.words.late_pattern import late_pattern

# --- Read a price list: [[price]] rows with the quantity and the day from which each is in force


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


# --- Read a packaging file: the pieces of one pack with their prices, and what is lost while it is filled


_FRACTION: Final = late_pattern(r"\s*(\d{1,6})\s*/\s*(\d{1,6})\s*")
_KINDS: Final = (
    "bottle", "tube", "jar", "pump", "cap", "closure", "seal", "carton", "label", "leaflet", "outer carton", "other",
)  # fmt: skip


def _pieces(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take how many pieces a pack takes: a number over 0, or a fraction in quotes ("1/12" of an outer carton)."""
    if isinstance(raw, str):
        match = _FRACTION.fullmatch(raw)
        if match is None or not int(match[1]) or not int(match[2]):
            words = f"'{path[-1]}': '{shown(raw)}' is no number of pieces; write 1, or \"1/12\" of one for twelve"
            sheet.refuse(path, raw, words, "bad-quantity")
        else:
            sheet.put(path, Fraction(int(match[1]), int(match[2])))
        return
    takers.number(sheet, path, raw)
    if sheet.facts.get(path) == 0:
        sheet.refuse(path, raw, f"'{path[-1]}' is none; leave out what a pack does not take", "bad-quantity")


def part_lost(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a share that is lost: less than all of it."""
    takers.quantity("share")(sheet, path, raw)
    value = sheet.facts[path]
    if isinstance(value, Quantity) and value.base >= 1:
        sheet.refuse(path, raw, f"'{path[-1]}': with {value} lost nothing is left", "bad-quantity")


_ITEM: Final[dict[str, Taker]] = {
    "title": takers.text,
    "kind": takers.one_of(*_KINDS),
    "supplier": takers.text,
    "code": takers.text,
    "each": _pieces,
    "scrap": part_lost,
    "price": price_list(takers.quantity("money"), takers.quantity("number")),
    "note": takers.text,
}


def _item(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a kind of piece; one of which nothing is stated is there all the same."""
    takers.table(_ITEM)(sheet, path, raw)
    if raw == {}:
        sheet.put(path, True)


_KNOWN: Final[dict[str, Taker]] = {
    "title": takers.text,
    "holds": takers.size("volume", "mass"),
    "overfill": takers.quantity("share"),
    "loss": part_lost,
    "item": takers.each(_item),
    "note": takers.text,
}


def read_packaging(data: dict[str, Any]) -> Facts:
    """Read the data of a packaging file into facts; refused values are among them as :class:`Unread`."""
    sheet = FactReader()
    takers.table(_KNOWN, required=("title", "item"))(sheet, (), data)
    if data.get("item") == {}:
        missing(sheet, (), "item", "the file: which pieces make up a pack?")
    return sheet.facts
