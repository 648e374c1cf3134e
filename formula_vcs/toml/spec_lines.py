"""Read the lines of a spec, and what was measured or judged against them: numbers, words, method and temperature."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any, Final

from formula_vcs.model.facts import Path, Unread
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker, missing, shown, unknown, wrong_kind

# What people judge and no instrument measures, so that a number in it is a part of the words.
SENSES: Final = frozenset(
    {"appearance", "aspect", "clarity", "color", "colour", "feel", "odor", "odour", "smell", "taste", "texture"}
)
_BOUNDS: Final = ("at most", "at least")
_BESIDE: Final[dict[str, Taker]] = {
    "method": takers.text,
    "temp": takers.span("temperature"),
    "note": takers.text,
}
_BESIDE_RESULT: Final[dict[str, Taker]] = {
    "seen": takers.text,
    "method": takers.text,
    "temp": takers.quantity("temperature"),
    "by": takers.text,
    "note": takers.text,
}


def line_of(kinds: Callable[[str], tuple[str, ...]]) -> Taker:
    """Take what something must measure or be like: a range, or words; or a table of it, its method and temperature.

    ``kinds`` gives the dimensions that a name may have; nothing where it may have any.
    """

    def asked(sheet: FactReader, path: Path, raw: Any) -> None:
        wants = kinds(path[-1])
        if isinstance(raw, int | Decimal) and not isinstance(raw, bool) and (not wants or wants == ("number",)):
            raw = str(raw)
        if not wants and not isinstance(raw, str):
            wrong_kind(sheet, path, raw, "a quantity or words, in quotes,")
            return
        if isinstance(raw, str) and not takers.kinds_of(path[-1]) and _is_words(path[-1], raw):
            takers.text(sheet, path, raw)
            return
        takers.span(*wants)(sheet, path, raw)
        refused = sheet.facts.get(path)
        if isinstance(refused, Unread) and not takers.kinds_of(path[-1]) and isinstance(raw, str):
            words = f'{refused.message}; words that hold a number are written {{ words = "..." }}'
            sheet.refuse(path, raw, words, refused.rule)

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        if isinstance(raw, dict):
            _table(sheet, path, raw, {"is": asked, "words": takers.text}, _BESIDE)
        else:
            asked(sheet, path, raw)

    return take


# Of a product; and of a material, whose supplier may measure a viscosity in his own way.
spec_line: Final = line_of(takers.kinds_of)
material_line: Final = line_of(lambda _: ())


def _is_words(name: str, raw: str) -> bool:
    """Say whether a line is meant in words: of a sense, or without any number in it."""
    said = raw.strip().casefold()
    return name.casefold() in SENSES or not (said.startswith(_BOUNDS) or any(letter.isdigit() for letter in said))


def result_line(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take one result: a value, or whether the words of the spec are met; or a table of it and how it was found."""
    if isinstance(raw, dict):
        known: dict[str, Taker] = {"is": _measured, "conforms": takers.yes_no}
        _table(sheet, path, raw, known, _BESIDE_RESULT)
    elif isinstance(raw, bool):
        sheet.put(path, raw)
    else:
        _measured(sheet, path, raw)


def _measured(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take one measured result: of the dimension that its name has in a spec, else of any."""
    wants = takers.kinds_of(path[-1])
    if not wants and not isinstance(raw, str) and not isinstance(takers.exact(raw), str):
        raw = str(raw)
    if isinstance(raw, str) and not wants and not any(letter.isdigit() for letter in raw):
        words = (
            f"'{shown(path[-1])}': '{shown(raw)}' is no measurement; of a spec in words write true where the product "
            "conforms and false where it does not; other words go into 'note'"
        )
        sheet.refuse(path, raw, words, "bad-quantity")
        return
    if isinstance(raw, str) and (" to " in raw or raw.startswith(_BOUNDS)):
        words = f"'{shown(path[-1])}': '{shown(raw)}' is a range, and a result is one value; readings go into 'note'"
        sheet.refuse(path, raw, words, "bad-quantity")
        return
    takers.quantity(*wants)(sheet, path, raw)


def _table(
    sheet: FactReader, path: Path, raw: dict[str, Any], values: dict[str, Taker], beside: dict[str, Taker]
) -> None:
    """Take a table with exactly one of some values, which becomes the fact itself, and other facts beside it."""
    where = f"{path[0]} '{shown(path[-1])}'"
    stated = [key for key in raw if key in values]
    for key, inner in raw.items():
        if key in beside:
            beside[key](sheet, (*path, key), inner)
        elif key not in values:
            unknown(sheet, (*path, key), inner, (*values, *beside), where)
    if not stated:
        missing(sheet, path, next(iter(values)), where)
        return
    values[stated[0]](sheet, path, raw[stated[0]])
    for key in stated[1:]:
        sheet.refuse((*path, key), raw[key], f"{where} states '{stated[0]}' and '{key}'; one is enough")
