"""Read a lot file: one delivery of an ingredient, with what its supplier measured."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.files import reading
from formula_vcs.files.reading import Sheet, Taker
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.lot import STATUSES


def measured(sheet: Sheet, path: Path, raw: Any) -> None:
    """Take what was measured, with its unit; a bare number is one without, and pH has none."""
    wants = {"pH": ("number",), "viscosity": ("viscosity",), "density": ("density",)}.get(path[-1], ())
    if not wants and not isinstance(raw, str) and not isinstance(reading.exact(raw), str):
        raw = str(raw)
    reading.span(*wants)(sheet, path, raw)


_LOT: Final[dict[str, Taker]] = {
    "title": reading.text,
    "ingredient": reading.text,
    "lot": reading.text,
    "supplier": reading.text,
    "received": reading.day,
    "made": reading.day,
    "expires": reading.day,
    "status": reading.one_of(*STATUSES),
    "quantity": reading.size("mass", "volume"),
    "price": reading.quantity("price", "price by volume"),
    "certificate": reading.each(measured),
    "note": reading.text,
}


def read_lot(data: dict[str, Any]) -> Facts:
    """Read the data of a lot file into facts; refused values are among them as :class:`Unread`."""
    sheet = Sheet()
    reading.table(_LOT, required=("ingredient",))(sheet, (), data)
    return sheet.facts
