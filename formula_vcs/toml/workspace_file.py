"""Read workspace.toml, and the files that have facts and no arithmetic of their own yet."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.approval import MARK, REFUSE
from formula_vcs.model.equipment import KINDS_OF_EQUIPMENT
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.quantity import Quantity
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker, shown
from formula_vcs.toml.vacuum import vacuum

_WORKSPACE: Final[dict[str, Taker]] = {}


def _currency(sheet: FactReader, path: Path, raw: Any) -> None:
    from formula_vcs.units.unit_reading import is_currency

    if not isinstance(raw, str):
        takers.wrong_kind(sheet, path, raw, 'a currency code, "EUR",')
    elif not is_currency(raw):
        sheet.refuse(path, raw, f"'{shown(raw)}' is no currency; write its ISO 4217 code, \"EUR\"")
    else:
        sheet.put(path, raw)


def _worth(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take what one unit of a currency is worth: a sum of money that is more than nothing."""
    if not isinstance(raw, str):
        takers.wrong_kind(sheet, path, raw, 'a sum of money in quotes, "0.862 EUR",')
    else:
        takers.size("money")(sheet, path, raw)


_RATE: Final[dict[str, Taker]] = {
    "of": _currency,
    "is": _worth,
    "day": takers.day,
    "source": takers.text,
    "note": takers.text,
}


def _rates(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take rates of exchange; two of one day that are about the same two currencies contradict each other."""
    takers.rows(takers.table(_RATE, required=("of", "is", "day"), where="[[rate]]"))(sheet, path, raw)
    seen: set[tuple[frozenset[str], Any]] = set()
    for position, row in enumerate(raw if path not in sheet.facts else (), 1):
        of, worth, day = (sheet.facts.get((*path, str(position), name)) for name in ("of", "is", "day"))
        if not isinstance(of, str) or not isinstance(worth, Quantity) or isinstance(day, Unread):
            continue
        about = frozenset((of, worth.currency)), day
        if of == worth.currency:
            sheet.refuse((*path, str(position), "is"), row["is"], f"'is': a rate of {of} is stated in another currency")
        elif about in seen:
            words = f"[[rate]] number {position} is about the same currencies and day as an earlier one"
            sheet.refuse((*path, str(position), "again"), row, words)
        seen.add(about)


_TOLERANCE: Final = takers.quantity("share")


def _tolerance(sheet: FactReader, path: Path, raw: Any) -> None:
    taker = takers.each(_TOLERANCE) if isinstance(raw, dict) else _TOLERANCE
    taker(sheet, path, raw)


_APPROVAL: Final[dict[str, Taker]] = {
    "roles": takers.members,
    "product": takers.members,
    "recipe": takers.members,
    "unapproved": takers.one_of(REFUSE, MARK),
    "note": takers.text,
}


def _approvals(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take rows of roles that must approve; one that names no role asks for nothing, which is never meant."""
    takers.rows(takers.table(_APPROVAL, required=("roles",), where="[[approval]]"))(sheet, path, raw)
    for position, row in enumerate(raw if isinstance(raw, list) else (), 1):
        if isinstance(row, dict) and row.get("roles") in ([], ""):
            words = f"[[approval]] number {position} names no role"
            sheet.refuse((*path, str(position), "roles"), row["roles"], words)


_WORKSPACE.update(
    {
        "title": takers.text,
        "currency": _currency,
        "markets": takers.members,
        "packs": takers.members,
        "batch": takers.size("mass"),
        "tolerance": _tolerance,
        "reason": takers.one_of("asked", "required"),
        "note": takers.text,
        "rate": _rates,
        "approval": _approvals,
    }
)

_SPEED: Final = takers.span("speed", "velocity")
_EQUIPMENT: Final[dict[str, Taker]] = {
    "title": takers.text,
    "kind": takers.one_of(*KINDS_OF_EQUIPMENT),
    "rotor": takers.quantity("length"),
    "impeller": takers.quantity("length"),
    "gap": takers.quantity("length"),
    "speed": _SPEED,
    "volume": takers.quantity("volume"),
    "working_range": takers.span("volume", "share"),
    "diameter": takers.quantity("length"),
    "jacket": takers.span("temperature"),
    "vacuum": vacuum,
    "power": takers.quantity("power"),
    "power_number": takers.number,
    "flow_number": takers.number,
    "metzner_otto": takers.number,
    "laminar_constant": takers.number,
    "capacity": takers.quantity("mass"),
    "readability": takers.quantity("mass"),
    "repeatability": takers.quantity("mass"),
    "minimum": takers.quantity("mass"),
    "note": takers.text,
}


def read_workspace(data: dict[str, Any]) -> Facts:
    """Read the data of workspace.toml into facts."""
    sheet = FactReader()
    takers.table(_WORKSPACE, required=("title",))(sheet, (), data)
    return sheet.facts


def read_equipment(data: dict[str, Any]) -> Facts:
    """Read the data of an equipment file into facts."""
    sheet = FactReader()
    takers.table(_EQUIPMENT, required=("title", "kind"))(sheet, (), data)
    return sheet.facts


def read_record(data: dict[str, Any]) -> Facts:
    """Keep the data of a lot, batch, evidence or house-rule file: one fact a top-level key."""
    sheet = FactReader()
    for key, value in data.items():
        takers.anything(sheet, (key,), value)
    return sheet.facts
