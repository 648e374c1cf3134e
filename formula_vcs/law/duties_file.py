"""Read the pack of duties: which evidence a class of change outdates from which size on."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.duty_rule import CLASSES
from formula_vcs.model.evidence import KINDS
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.law_row import CHECKED
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker


def _kinds(sheet: FactReader, path: Path, raw: Any) -> None:
    takers.listed(sheet, path, raw)
    for name in sheet.facts[path] if isinstance(raw, list) else ():
        if name not in KINDS:
            sheet.refuse(path, raw, f"'{name}' is no kind of evidence{takers.nearest(str(name), KINDS)}")
            return


def _size(sheet: FactReader, path: Path, raw: Any) -> None:
    if isinstance(raw, str) and raw.endswith("K"):
        takers.difference(sheet, path, raw)
    else:
        takers.quantity("share", "number")(sheet, path, raw)


_ROW: Final[dict[str, Taker]] = {
    "id": takers.text,
    "when": takers.one_of(*CLASSES),
    "of": takers.members,
    "above": _size,
    "repeat": _kinds,
    "decide": _kinds,
    "source": takers.text,
    "checked": takers.one_of(*CHECKED),
}


def _row(sheet: FactReader, path: Path, raw: Any) -> None:
    required = ("id", "when", "source", "checked")
    takers.table(_ROW, required=required, where=f"[[row]] number {path[-1]}")(sheet, path, raw)
    if not ("repeat" in raw or "decide" in raw):
        takers.missing(sheet, path, "repeat", f"[[row]] number {path[-1]}")
    above, wants = sheet.facts.get((*path, "above")), CLASSES.get(str(raw.get("when")), "")
    if above is not None and getattr(above, "dimension", wants) != wants:
        what = f"a {wants}" if wants else "no size"
        sheet.refuse((*path, "above"), raw["above"], f"'above': the class '{raw['when']}' has {what}")


_WORK: Final[dict[str, Taker]] = {
    "owner": takers.text,
    "repeat": takers.text,
    "decide": takers.text,
    "source": takers.text,
    "checked": takers.one_of(*CHECKED),
}
_SCHEME: Final[dict[str, Taker]] = {"source": takers.text, "checked": takers.one_of(*CHECKED)}


def _works(sheet: FactReader, path: Path, raw: Any) -> None:
    known = dict.fromkeys(KINDS, takers.table(_WORK, required=tuple(_WORK)))
    takers.table(known, required=KINDS)(sheet, path, raw)


_PACK: Final[dict[str, Taker]] = {
    "title": takers.text,
    "scale": takers.text,
    "note": takers.text,
    "kind": _works,
    "scheme": takers.each(takers.table(_SCHEME, required=tuple(_SCHEME))),
    "row": takers.rows(_row),
}


def read_duties(data: dict[str, Any]) -> Facts:
    """Read the data of the pack into facts; refused values are among them as :class:`Unread`."""
    sheet = FactReader()
    takers.table(_PACK, required=tuple(_PACK))(sheet, (), data)
    names: set[str] = set()
    for path, value in list(sheet.facts.items()):
        if path[0] == "row" and path[2:] == ("id",):
            if value in names:
                sheet.refuse(path, value, f"two rows are called '{value}'")
            names.add(str(value))
    return sheet.facts
