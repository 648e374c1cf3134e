"""Read the pack of duties: which evidence a class of change outdates from which size on."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.files import reading
from formula_vcs.files.reading import Sheet, Taker
from formula_vcs.model.duty_table import CLASSES
from formula_vcs.model.evidence import KINDS
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.law import CHECKED


def _kinds(sheet: Sheet, path: Path, raw: Any) -> None:
    reading.listed(sheet, path, raw)
    for name in sheet.facts[path] if isinstance(raw, list) else ():
        if name not in KINDS:
            sheet.refuse(path, raw, f"'{name}' is no kind of evidence{reading.nearest(str(name), KINDS)}")
            return


def _size(sheet: Sheet, path: Path, raw: Any) -> None:
    if isinstance(raw, str) and raw.endswith("K"):
        reading.difference(sheet, path, raw)
    else:
        reading.quantity("share", "number")(sheet, path, raw)


_ROW: Final[dict[str, Taker]] = {
    "id": reading.text,
    "when": reading.one_of(*CLASSES),
    "of": reading.members,
    "above": _size,
    "repeat": _kinds,
    "decide": _kinds,
    "source": reading.text,
    "checked": reading.one_of(*CHECKED),
}


def _row(sheet: Sheet, path: Path, raw: Any) -> None:
    required = ("id", "when", "source", "checked")
    reading.table(_ROW, required=required, where=f"[[row]] number {path[-1]}")(sheet, path, raw)
    if not ("repeat" in raw or "decide" in raw):
        reading.missing(sheet, path, "repeat", f"[[row]] number {path[-1]}")
    above, wants = sheet.facts.get((*path, "above")), CLASSES.get(str(raw.get("when")), "")
    if above is not None and getattr(above, "dimension", wants) != wants:
        what = f"a {wants}" if wants else "no size"
        sheet.refuse((*path, "above"), raw["above"], f"'above': the class '{raw['when']}' has {what}")


_WORK: Final[dict[str, Taker]] = {
    "owner": reading.text,
    "repeat": reading.text,
    "decide": reading.text,
    "source": reading.text,
    "checked": reading.one_of(*CHECKED),
}
_SCHEME: Final[dict[str, Taker]] = {"source": reading.text, "checked": reading.one_of(*CHECKED)}


def _works(sheet: Sheet, path: Path, raw: Any) -> None:
    known = dict.fromkeys(KINDS, reading.table(_WORK, required=tuple(_WORK)))
    reading.table(known, required=KINDS)(sheet, path, raw)


_PACK: Final[dict[str, Taker]] = {
    "title": reading.text,
    "scale": reading.text,
    "note": reading.text,
    "kind": _works,
    "scheme": reading.each(reading.table(_SCHEME, required=tuple(_SCHEME))),
    "row": reading.rows(_row),
}


def read_duties(data: dict[str, Any]) -> Facts:
    """Read the data of the pack into facts; refused values are among them as :class:`Unread`."""
    sheet = Sheet()
    reading.table(_PACK, required=tuple(_PACK))(sheet, (), data)
    names: set[str] = set()
    for path, value in list(sheet.facts.items()):
        if path[0] == "row" and path[2:] == ("id",):
            if value in names:
                sheet.refuse(path, value, f"two rows are called '{value}'")
            names.add(str(value))
    return sheet.facts
