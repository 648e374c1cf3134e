"""Read the pack of duties: which evidence a class of change outdates from which size on."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.evidence import KINDS
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.law_row import CHECKED
from formula_vcs.toml import duty_rows, takers
from formula_vcs.toml.takers import FactReader, Taker

_ROW: Final[dict[str, Taker]] = {"id": takers.text, **duty_rows.keys(KINDS)}
_ROW_TAKER: Final = duty_rows.row(_ROW, ("id", "when", "source", "checked"))
_SCHEME: Final[dict[str, Taker]] = {"source": takers.text, "checked": takers.one_of(*CHECKED)}


def _works(sheet: FactReader, path: Path, raw: Any) -> None:
    known = dict.fromkeys(KINDS, takers.table(duty_rows.WORK, required=tuple(duty_rows.WORK)))
    takers.table(known, required=KINDS)(sheet, path, raw)


_PACK: Final[dict[str, Taker]] = {
    "title": takers.text,
    "scale": takers.text,
    "note": takers.text,
    "kind": _works,
    "scheme": takers.each(takers.table(_SCHEME, required=tuple(_SCHEME))),
    "row": takers.rows(_ROW_TAKER),
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
