"""Read a lot file: one delivery of an ingredient, with what its supplier measured."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.lot import STATUSES
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker


def measured(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take what was measured, with its unit, or whether words conform; a bare number has no unit, as pH has none."""
    if isinstance(raw, bool):
        sheet.put(path, raw)
        return
    wants = takers.kinds_of(path[-1])
    if not wants and not isinstance(raw, str) and not isinstance(takers.exact(raw), str):
        raw = str(raw)
    takers.span(*wants)(sheet, path, raw)


_LOT: Final[dict[str, Taker]] = {
    "title": takers.text,
    "ingredient": takers.text,
    "lot": takers.text,
    "supplier": takers.text,
    "received": takers.day,
    "made": takers.day,
    "expires": takers.day,
    "status": takers.one_of(*STATUSES),
    "quantity": takers.size("mass", "volume"),
    "price": takers.quantity("price", "price by volume"),
    "certificate": takers.each(measured),
    "note": takers.text,
}


def read_lot(data: dict[str, Any]) -> Facts:
    """Read the data of a lot file into facts; refused values are among them as :class:`Unread`."""
    sheet = FactReader()
    takers.table(_LOT, required=("ingredient",))(sheet, (), data)
    return sheet.facts
