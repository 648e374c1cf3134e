"""Read an ingredient file: one raw material as bought."""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Any, Final

from formula_vcs.files import reading
from formula_vcs.files.reading import Sheet, Taker, missing, shown, unknown, wrong_kind
from formula_vcs.model.amount import Price
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.ingredient import ORIGIN_INDICES
from formula_vcs.model.recipe import SHEAR_MODES

# What an ingredient list leaves out: Regulation (EC) No 1223/2009, Article 19(1)(g); 21 CFR 701.3(l).
ROLES: Final = ("impurity", "processing aid")
# Parts of a plant, as ISO 16128-2 and COSMOS tell them apart by their water.
PARTS: Final = ("wood", "bark", "seed", "nut", "root", "leaf", "flower", "aerial part", "fruit", "watery fruit")
COSMOS_CLASSES: Final = ("water", "mineral", "ppai", "cpai", "pemo", "nni")


def _substance(sheet: Sheet, path: Path, raw: Any) -> None:
    if not isinstance(raw, dict):
        reading.percent(sheet, path, raw)
        return
    for key, value in raw.items():
        if key == "pct":
            reading.percent(sheet, path, value)
        elif key == "cas":
            reading.text(sheet, (*path, key), value)
        elif key in ("organic", "nano"):
            reading.yes_no(sheet, (*path, key), value)
        elif key == "role":
            reading.one_of(*ROLES)(sheet, (*path, key), value)
        else:
            known = ("pct", "cas", "organic", "nano", "role")
            unknown(sheet, (*path, key), value, known, f"substance '{shown(path[-1])}'")
    if "pct" not in raw:
        missing(sheet, path, "pct", f"substance '{shown(path[-1])}'")


_PRICE_KEYS: Final = ("cost", "from", "since")


def _prices(sheet: Sheet, path: Path, raw: Any) -> None:
    if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
        wrong_kind(sheet, path, raw, "an array of tables, [[price]],")
        return
    prices: dict[Any, Price] = {}
    for position, row in enumerate(raw, 1):
        price = _price(sheet, ("price", str(position)), row)
        if price is None:
            continue
        name = price_rank(price)
        if name in prices:
            words = f"[[price]] number {position} is for the same quantity and day as an earlier one"
            sheet.refuse(("price", str(position), "again"), row, words)
        else:
            prices[name] = price
    sheet.put(path, tuple(prices[name] for name in sorted(prices)))


def price_rank(price: Price) -> tuple[str, Fraction, datetime.date]:
    """Order prices by what they mean, so that their spelling and their order in the file do not count."""
    since = price.since if isinstance(price.since, datetime.date) else datetime.date.min
    return ("", Fraction(0), since) if price.least is None else (price.least.dimension, price.least.base, since)


def _price(sheet: Sheet, path: Path, row: dict[str, Any]) -> Price | None:
    known: dict[str, Taker] = {
        "cost": reading.quantity("price", "price by volume"),
        "from": reading.quantity("mass", "volume"),
        "since": reading.day,
    }
    part = Sheet()
    reading.table(known, required=("cost",), where=f"[[price]] number {path[1]}")(part, path, row)
    if any(isinstance(value, Unread) for value in part.facts.values()):
        sheet.facts.update({key: value for key, value in part.facts.items() if isinstance(value, Unread)})
        return None
    return Price(part.facts[*path, "cost"], part.facts.get((*path, "from")), part.facts.get((*path, "since")))


_HANDLING: Final[dict[str, Taker]] = {
    "shear_at_most": reading.one_of(*SHEAR_MODES),
    "shear_at_least": reading.one_of(*SHEAR_MODES),
    "temp_at_most": reading.quantity("temperature"),
    "temp_at_least": reading.quantity("temperature"),
    "add_below": reading.quantity("temperature"),
    "shear_with": reading.members,
    "wet_with": reading.members,
    "after": reading.members,
    "before": reading.members,
    "rest": reading.quantity("time"),
    "because": reading.text,
    "hazards": reading.members,
    "note": reading.text,
}
_ORIGIN: Final[dict[str, Taker]] = {
    **dict.fromkeys(ORIGIN_INDICES, reading.index),
    "formulation_water": reading.yes_no,
    "source": reading.text,
}
_COSMOS: Final[dict[str, Taker]] = {
    **dict.fromkeys(COSMOS_CLASSES, reading.percent),
    "ppai_organic": reading.percent,
    "cpai_organic": reading.percent,
    "source": reading.text,
}
_CERTIFICATE: Final[dict[str, Taker]] = {
    "scheme": reading.text,
    "number": reading.text,
    "valid_to": reading.day,
    "valid_from": reading.day,
    "note": reading.text,
}
_SOLVENT: Final[dict[str, Taker]] = {
    "mass": reading.quantity("mass"),
    "kind": reading.one_of("natural", "derived", "non-natural"),
    "organic": reading.index,
}
_MADE: Final[dict[str, Taker]] = {
    "part": reading.one_of(*PARTS),
    "dry_plant": reading.quantity("mass"),
    "fresh_plant": reading.quantity("mass"),
    "water": reading.quantity("mass"),
    "extract": reading.quantity("mass"),
    "organic": reading.yes_no,
    "solvents": reading.each(reading.table(_SOLVENT, required=("mass",))),
    "source": reading.text,
    "note": reading.text,
}
_KNOWN: Final[dict[str, Taker]] = {
    "title": reading.text,
    "supplier": reading.text,
    "code": reading.text,
    "functions": reading.members,
    "density": reading.quantity("density"),
    "recipe": reading.text,
    "note": reading.text,
    "substances": reading.each(_substance),
    "origin": reading.table(_ORIGIN),
    "cosmos": reading.table(_COSMOS),
    "nop": reading.table({"left_out": reading.percent, "organic": reading.percent, "source": reading.text}),
    "handling": reading.table(_HANDLING),
    "allergens": reading.each(reading.percent),
    "certificate": reading.rows(reading.table(_CERTIFICATE)),
    "price": _prices,
    "made": reading.table(_MADE),
    "concentrate": reading.table({"ratio": reading.number, "of": reading.text, "note": reading.text}),
    "spec": reading.each(reading.span()),
    "active": reading.percent,
    "hlb": reading.number,
    "required_hlb": reading.number,
}


def read_ingredient(data: dict[str, Any]) -> Facts:
    """Read the data of an ingredient file into facts; refused values are among them as :class:`Unread`."""
    sheet = Sheet()
    reading.table(_KNOWN, required=("title",))(sheet, (), data)
    if "substances" in data and "recipe" in data:
        words = "states [substances] and 'recipe'; a premix is made of its recipe alone"
        sheet.refuse(("recipe",), data["recipe"], words)
    elif "substances" not in data and "recipe" not in data:
        words = "states neither [substances] nor a 'recipe': what is it made of?"
        sheet.refuse(("substances",), None, words, "missing-value")
    return sheet.facts


def place(facts: Facts, path: Path) -> tuple[str | int, ...]:
    """Turn a path of facts into the path of keys in the file: rows are numbered from 1 here, from 0 there."""
    del facts
    if len(path) > 1 and path[0] in ("price", "certificate") and path[1].isdigit():
        return (path[0], int(path[1]) - 1, *path[2:])
    return path
