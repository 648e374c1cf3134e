"""Read a packaging file: the pieces of one pack with their prices, and what is lost while it is filled."""

from __future__ import annotations

from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.quantity import Quantity
from formula_vcs.toml import takers
from formula_vcs.toml.price_list import price_list
from formula_vcs.toml.takers import FactReader, Taker, missing, shown
from formula_vcs.words.late_pattern import late_pattern

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
