"""Read an ingredient file: one raw material as bought."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.amount import PartSpan
from formula_vcs.model.facts import Facts, Path, below
from formula_vcs.model.ingredient import COSMOS_CLASSES, ORIGIN_INDICES
from formula_vcs.model.recipe import SHEAR_MODES
from formula_vcs.model.substance_classes import CLASSES
from formula_vcs.toml import spec_lines, takers
from formula_vcs.toml.price_list import price_list
from formula_vcs.toml.takers import FactReader, Taker, missing, shown, unknown

# What an ingredient list leaves out: Regulation (EC) No 1223/2009, Article 19(1)(g); 21 CFR 701.3(l).
ROLES: Final = ("impurity", "processing aid")
# What a material comes from, for the claim "vegan"; terms of the trade.
SOURCES: Final = ("plant", "animal", "mineral", "synthetic", "biotechnology")
# Parts of a plant, as ISO 16128-2 and COSMOS tell them apart by their water.
PARTS: Final = ("wood", "bark", "seed", "nut", "root", "leaf", "flower", "aerial part", "fruit", "watery fruit")


def _shared(taker: Taker, beside: dict[str, Taker], what: str) -> Taker:
    """Take a share of the material, or a table of it and other facts of the substance."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        if not isinstance(raw, dict):
            taker(sheet, path, raw)
            return
        where = f"{what} '{shown(path[-1])}'"
        for key, value in raw.items():
            if key == "pct":
                taker(sheet, path, value)
            elif key in beside:
                beside[key](sheet, (*path, key), value)
            else:
                unknown(sheet, (*path, key), value, ("pct", *beside), where)
        if "pct" not in raw:
            missing(sheet, path, "pct", where)

    return take


_substance: Final = _shared(
    takers.filling_part,
    {"cas": takers.text, "organic": takers.yes_no, "nano": takers.yes_no, "role": takers.one_of(*ROLES)},
    "substance",
)
_allergen: Final = _shared(takers.part, {"cas": takers.text}, "allergen")


def _substances(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a composition; one substance at most fills it up."""
    takers.each(_substance)(sheet, path, raw)
    filling = [name for name, value in below(sheet.facts, *path).items() if isinstance(value, PartSpan) and value.fills]
    for name in filling[1:]:
        words = f"'{shown(name)}': '{shown(filling[0])}' fills up to 100 already; one substance can"
        sheet.refuse((*path, name), "to 100", words)


def _classes(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take the classes that a material states of itself; an empty list says that it is in none."""
    takers.members(sheet, path, raw)
    if raw == []:
        sheet.put(path, ())
    for fact, value in list(sheet.facts.items()):
        if fact[: len(path)] == path and len(fact) == len(path) + 1 and value is True and fact[-1] not in CLASSES:
            hint = takers.nearest(fact[-1], CLASSES) or f"; known: {', '.join(CLASSES)}"
            sheet.refuse(fact, fact[-1], f"'class': there is no class '{shown(fact[-1])}'{hint}")


def _max_use(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take the most that may be used, by product: a share of the finished product in %, with its own source or not."""
    entries = dict(raw) if isinstance(raw, dict) else raw
    if isinstance(entries, dict) and "source" in entries:
        takers.text(sheet, (*path, "source"), entries.pop("source"))
    takers.each(_use)(sheet, path, entries)


def _use(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, dict):
        takers.percent(sheet, path, raw)
        return
    where = f"[max_use] '{shown(path[-1])}'"
    for key, value in raw.items():
        if key == "at_most":
            takers.percent(sheet, path, value)
        elif key in ("source", "note"):
            takers.text(sheet, (*path, key), value)
        else:
            unknown(sheet, (*path, key), value, ("at_most", "source", "note"), where)
    if "at_most" not in raw:
        missing(sheet, path, "at_most", where)


_HANDLING: Final[dict[str, Taker]] = {
    "shear_at_most": takers.one_of(*SHEAR_MODES),
    "shear_at_least": takers.one_of(*SHEAR_MODES),
    "temp_at_most": takers.quantity("temperature"),
    "temp_at_least": takers.quantity("temperature"),
    "add_below": takers.quantity("temperature"),
    "shear_with": takers.members,
    "wet_with": takers.members,
    "after": takers.members,
    "before": takers.members,
    "rest": takers.quantity("time"),
    "because": takers.text,
    "hazards": takers.members,
    "note": takers.text,
}
_ORIGIN: Final[dict[str, Taker]] = {
    **dict.fromkeys(ORIGIN_INDICES, takers.index),
    "formulation_water": takers.yes_no,
    "source": takers.text,
}
_COSMOS: Final[dict[str, Taker]] = {
    **dict.fromkeys(COSMOS_CLASSES, takers.percent),
    "ppai_organic": takers.percent,
    "cpai_organic": takers.percent,
    "source": takers.text,
}
_CERTIFICATE: Final[dict[str, Taker]] = {
    "scheme": takers.text,
    "number": takers.text,
    "valid_to": takers.day,
    "valid_from": takers.day,
    "note": takers.text,
}
_SOLVENT: Final[dict[str, Taker]] = {
    "mass": takers.quantity("mass"),
    "kind": takers.one_of("natural", "derived", "non-natural"),
    "organic": takers.index,
}
_MADE: Final[dict[str, Taker]] = {
    "part": takers.one_of(*PARTS),
    "dry_plant": takers.quantity("mass"),
    "fresh_plant": takers.quantity("mass"),
    "water": takers.quantity("mass"),
    "extract": takers.quantity("mass"),
    "organic": takers.yes_no,
    "solvents": takers.each(takers.table(_SOLVENT, required=("mass",))),
    "source": takers.text,
    "note": takers.text,
}
# What Regulation (EC) No 1907/2006, Annex XVII, entry 78 asks of a polymer; ``released``: how its paragraph 5 applies.
_POLYMER: Final[dict[str, Taker]] = {
    "of": takers.text,
    "particles": takers.yes_no,
    "size": takers.span("length"),
    "degradable": takers.yes_no,
    "soluble": takers.yes_no,
    "natural": takers.yes_no,
    "carbon_free": takers.yes_no,
    "released": takers.one_of("contained", "modified", "in a matrix"),
    "encapsulates": takers.one_of("fragrance"),
    "source": takers.text,
    "note": takers.text,
}
_KNOWN: Final[dict[str, Taker]] = {
    "title": takers.text,
    "supplier": takers.text,
    "code": takers.text,
    "functions": takers.members,
    "class": _classes,
    "source": takers.one_of(*SOURCES),
    "density": takers.quantity("density"),
    "recipe": takers.text,
    "note": takers.text,
    "substances": _substances,
    "origin": takers.table(_ORIGIN),
    "polymer": takers.table(_POLYMER),
    "cosmos": takers.table(_COSMOS),
    "nop": takers.table({"left_out": takers.percent, "organic": takers.percent, "source": takers.text}),
    "handling": takers.table(_HANDLING),
    "max_use": _max_use,
    "allergens": takers.each(_allergen),
    "certificate": takers.rows(takers.table(_CERTIFICATE)),
    "price": price_list(takers.quantity("price", "price by volume"), takers.quantity("mass", "volume")),
    "made": takers.table(_MADE),
    "concentrate": takers.table({"ratio": takers.number, "of": takers.text, "note": takers.text}),
    "spec": takers.each(spec_lines.material_line),
    "acid": takers.quantity("titre"),
    "alkali": takers.quantity("titre"),
    "active": takers.percent,
    "hlb": takers.number,
    "required_hlb": takers.number,
}


def read_ingredient(data: dict[str, Any]) -> Facts:
    """Read the data of an ingredient file into facts; refused values are among them as :class:`Unread`."""
    sheet = FactReader()
    takers.table(_KNOWN, required=("title",))(sheet, (), data)
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
    if len(path) > 1 and path[0] in ("price", "certificate", "rate", "approval", "revoked") and path[1].isdigit():
        return (path[0], int(path[1]) - 1, *path[2:])
    if len(path) > 3 and path[0] == "item" and path[2] == "price" and path[3].isdigit():
        return (*path[:3], int(path[3]) - 1, *path[4:])
    return path
