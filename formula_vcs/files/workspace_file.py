"""Read workspace.toml, and the files that have facts and no arithmetic of their own yet."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.files import reading
from formula_vcs.files.reading import Sheet, Taker, shown
from formula_vcs.model.facts import Facts, Path

_WORKSPACE: Final[dict[str, Taker]] = {}


def _currency(sheet: Sheet, path: Path, raw: Any) -> None:
    from formula_vcs.files.units import is_currency

    if not isinstance(raw, str):
        reading.wrong_kind(sheet, path, raw, 'a currency code, "EUR",')
    elif not is_currency(raw):
        sheet.refuse(path, raw, f"'{shown(raw)}' is no currency; write its ISO 4217 code, \"EUR\"")
    else:
        sheet.put(path, raw)


_TOLERANCE: Final = reading.quantity("share")


def _tolerance(sheet: Sheet, path: Path, raw: Any) -> None:
    taker = reading.each(_TOLERANCE) if isinstance(raw, dict) else _TOLERANCE
    taker(sheet, path, raw)


_WORKSPACE.update(
    {
        "title": reading.text,
        "currency": _currency,
        "markets": reading.members,
        "packs": reading.members,
        "batch": reading.size("mass"),
        "tolerance": _tolerance,
        "reason": reading.one_of("asked", "required"),
        "note": reading.text,
    }
)

_SPEED: Final = reading.span("speed", "velocity")
_EQUIPMENT: Final[dict[str, Taker]] = {
    "title": reading.text,
    "kind": reading.text,
    "rotor": reading.quantity("length"),
    "impeller": reading.quantity("length"),
    "gap": reading.quantity("length"),
    "speed": _SPEED,
    "volume": reading.quantity("volume"),
    "working_range": reading.span("volume", "share"),
    "diameter": reading.quantity("length"),
    "jacket": reading.span("temperature"),
    "power": reading.quantity("power"),
    "power_number": reading.number,
    "flow_number": reading.number,
    "metzner_otto": reading.number,
    "laminar_constant": reading.number,
    "capacity": reading.quantity("mass"),
    "readability": reading.quantity("mass"),
    "repeatability": reading.quantity("mass"),
    "minimum": reading.quantity("mass"),
    "note": reading.text,
}


def read_workspace(data: dict[str, Any]) -> Facts:
    """Read the data of workspace.toml into facts."""
    sheet = Sheet()
    reading.table(_WORKSPACE, required=("title",))(sheet, (), data)
    return sheet.facts


def read_equipment(data: dict[str, Any]) -> Facts:
    """Read the data of an equipment file into facts."""
    sheet = Sheet()
    reading.table(_EQUIPMENT, required=("title", "kind"))(sheet, (), data)
    return sheet.facts


def read_record(data: dict[str, Any]) -> Facts:
    """Keep the data of a lot, batch, evidence or house-rule file: one fact a top-level key."""
    sheet = Sheet()
    for key, value in data.items():
        reading.anything(sheet, (key,), value)
    return sheet.facts
