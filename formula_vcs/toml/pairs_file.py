"""Read [[pair]] rows, of the pack that ships or of a house: what does not go together, every bad row at its line."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.facts import Path
from formula_vcs.model.finding import SEVERITIES
from formula_vcs.model.law_row import CHECKED, DIMENSIONS
from formula_vcs.model.pair import FIRST, WHERE
from formula_vcs.model.recipe import SHEAR_MODES
from formula_vcs.model.substance_classes import CLASSES
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker, missing, shown, unknown, wrong_kind
from formula_vcs.words.late_pattern import late_pattern

PRACTICE: Final = "common practice"
_PH: Final = late_pattern(r"(?:above|below) \d{1,2}(?:\.\d{1,3})?")
_SIDES: Final = ("one", "other", "without")
_CONDITIONS: Final = ("other", "without", "pH", "hot")


def names(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a list of names, or one name."""
    items = [raw] if isinstance(raw, str) else raw
    if not isinstance(items, list) or not items or not all(isinstance(item, str) and item.strip() for item in items):
        wrong_kind(sheet, path, raw, 'a list of names, ["...", "..."],')
    else:
        sheet.put(path, tuple(" ".join(item.split()) for item in items))


def classes(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a list of classes; one that is not known is refused, with the nearest that is."""
    names(sheet, path, raw)
    found = sheet.facts[path]
    strange = [name for name in found if name not in CLASSES] if isinstance(found, tuple) else []
    if strange:
        hint = takers.nearest(strange[0], CLASSES) or f"; known: {', '.join(CLASSES)}"
        sheet.refuse(path, raw, f"'{path[-1]}': there is no class '{shown(strange[0])}'{hint}")


def _pH(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, str) or _PH.fullmatch(raw) is None:
        sheet.refuse(path, raw, f'\'{shown(raw)}\' is no pH condition; write "above 5.5" or "below 4"')
    elif not 0 <= float(raw.split()[1]) <= 14:
        sheet.refuse(path, raw, f"'{path[-1]}': no product has a pH of {raw.split()[1]}")
    else:
        sheet.put(path, raw)


def _side(sheet: FactReader, path: Path, raw: Any) -> None:
    known: dict[str, Taker] = {
        "substances": names, "class": classes, "function": names, "above": takers.quantity("share"),
    }  # fmt: skip
    where = f"'{path[-1]}' of pair '{path[1]}'"
    takers.table(known, where=where)(sheet, path, raw)
    if isinstance(raw, dict) and not any(key in raw for key in ("substances", "class", "function")):
        missing(sheet, path, "substances", f"{where}: name substances, a class or a function")


def _scope(sheet: FactReader, path: Path, raw: Any) -> None:
    takers.table(dict.fromkeys(DIMENSIONS, names), where=f"'{path[-1]}' of pair '{path[1]}'")(sheet, path, raw)


_PAIR: Final[dict[str, Taker]] = {
    "one": _side,
    "other": _side,
    "without": _side,
    "together": takers.one_of(*WHERE),
    "emulsion": takers.one_of("W/O"),
    "pH": _pH,
    "first": takers.one_of(*FIRST),
    "hot": takers.quantity("temperature"),
    "rough": takers.one_of(*SHEAR_MODES),
    "what": takers.text,
    "instead": takers.text,
    "severity": takers.one_of(*SEVERITIES),
    "source": takers.text,
    "checked": takers.one_of(*CHECKED),
    "where": _scope,
    "unless": _scope,
    "off": takers.text,
}


def pair(sheet: FactReader, path: Path, row: dict[str, Any]) -> None:
    """Take one row, its id aside: ``path`` is ("pair", id)."""
    where = f"pair '{path[1]}'"
    for key, value in row.items():
        if key == "id":
            continue
        taker = _PAIR.get(key)
        if taker is None:
            unknown(sheet, (*path, key), value, ("id", *_PAIR), where)
        else:
            taker(sheet, (*path, key), value)
    if "off" in row:
        _only_off(sheet, path, row)
        return
    for key in ("one", "what", "source"):
        if key not in row:
            missing(sheet, path, key, where)
    if not any(key in row for key in _CONDITIONS):
        missing(sheet, path, "other", f"{where}: say what it does not go with (other, without, pH or hot)")
    _of_vessels(sheet, path, row)
    source = row.get("source")
    if row.get("severity") == "block" and isinstance(source, str) and source.casefold().startswith(PRACTICE):
        words = f"{where}: common practice alone blocks nothing; warn, or name a source"
        sheet.refuse((*path, "severity"), row["severity"], words)


def _only_off(sheet: FactReader, path: Path, row: dict[str, Any]) -> None:
    for key, value in row.items():
        if key not in ("id", "off"):
            words = f"pair '{path[1]}': a row that is switched off ('off') states nothing else"
            sheet.refuse((*path, key), value, words)


def _of_vessels(sheet: FactReader, path: Path, row: dict[str, Any]) -> None:
    """Refuse an order or a later step of a pair that need not meet in a vessel."""
    for key in ("first", "rough"):
        if key in row and (row.get("together") != "vessel" or "other" not in row):
            words = (
                f"pair '{path[1]}': '{key}' is about two that meet in a vessel; state 'other' and together = \"vessel\""
            )
            sheet.refuse((*path, key), row[key], words)
