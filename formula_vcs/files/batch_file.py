"""Read a batch file: one making of a recipe, with its targets and what was really done."""

from __future__ import annotations

import datetime
import re
from typing import Any, Final

from formula_vcs.files import pin, reading
from formula_vcs.files.reading import Sheet, Taker, missing, shown, unknown, wrong_kind
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.recipe import SHEAR_MODES, STEP_ORDER

_STEP_ID: Final = re.compile(r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*")
_MOST_STEPS: Final = 1000
_SAME_STEP: Final = 100


def _count(sheet: Sheet, path: Path, raw: Any) -> None:
    value = reading.exact(raw)
    if isinstance(value, str):
        sheet.refuse(path, raw, f"'{path[-1]}' is {value}", "bad-quantity")
    elif value != value.to_integral_value():
        sheet.refuse(path, raw, f"'{path[-1]}' is {value}; packs are counted in whole numbers", "bad-quantity")
    else:
        sheet.put(path, value.to_integral_value())


def _moment(sheet: Sheet, path: Path, raw: Any) -> None:
    if isinstance(raw, datetime.datetime):
        sheet.put(path, raw)
    else:
        wrong_kind(sheet, path, raw, "a date with a time and without quotes, 2026-03-04T09:30:00,")


def _measured(sheet: Sheet, path: Path, raw: Any) -> None:
    """Take what a step measured: a number, or a quantity of any kind."""
    if not isinstance(raw, str) and not isinstance(reading.exact(raw), str):
        raw = str(raw)
    reading.span()(sheet, path, raw)


def _result(sheet: Sheet, path: Path, raw: Any) -> None:
    """Take one measured result: of the dimension that its name has in a spec, else of any."""
    wants = {"pH": ("number",), "viscosity": ("viscosity",), "density": ("density",)}.get(path[-1], ())
    if not wants and not isinstance(raw, str) and not isinstance(reading.exact(raw), str):
        raw = str(raw)
    if isinstance(raw, str) and not wants and not any(letter.isdigit() for letter in raw):
        words = f"'{shown(path[-1])}': '{shown(raw)}' is no measurement; words go into 'note'"
        sheet.refuse(path, raw, words, "bad-quantity")
        return
    if isinstance(raw, str) and (" to " in raw or raw.startswith(("at most", "at least"))):
        words = f"'{shown(path[-1])}': '{shown(raw)}' is a range, and a result is one value; readings go into 'note'"
        sheet.refuse(path, raw, words, "bad-quantity")
        return
    reading.quantity(*wants)(sheet, path, raw)


_PORTION: Final[dict[str, Taker]] = {
    "step": reading.text,
    "target": reading.quantity("mass"),
    "weighed": reading.quantity("mass"),
    "lot": reading.text,
    "balance": reading.text,
    "at": _moment,
    "by": reading.text,
    "note": reading.text,
}
_CHARGE: Final[dict[str, Taker]] = {
    "target": reading.quantity("mass"),
    "weighed": reading.quantity("mass"),
    "lot": reading.text,
    "lots": reading.rows(reading.table(_PORTION)),
    "balance": reading.text,
    "at": _moment,
    "by": reading.text,
    "checked_by": reading.text,
    "note": reading.text,
}
# A step's values: what was asked for stands in its target, what was done beside it.
_VALUES: Final[dict[str, Taker]] = {
    "shear": reading.one_of(*SHEAR_MODES),
    "mixer": reading.text,
    "speed": reading.span("speed", "velocity"),
    "time": reading.span("time"),
    "temp": reading.span("temperature"),
    "rest": reading.span("time"),
    "viscosity": reading.span("viscosity"),
}
_STEP: Final[dict[str, Taker]] = {
    "target": reading.table({**_VALUES, "accept": _measured}),
    "scaled": reading.text,
    "started": _moment,
    "ended": _moment,
    **_VALUES,
    "measured": _measured,
    "done_by": reading.text,
    "checked_by": reading.text,
    "note": reading.text,
}
_DEVIATION: Final[dict[str, Taker]] = {
    "about": reading.text,
    "why": reading.text,
    "decided_by": reading.text,
    "date": reading.day,
    "note": reading.text,
}


def _charge(sheet: Sheet, path: Path, raw: Any) -> None:
    place = f"phase {shown(path[1])}, '{shown(path[3])}'"
    if not isinstance(raw, dict):
        words = f'{place} is {reading.kind_of(raw)}; write {{ target = "1 kg", weighed = "1.002 kg", lot = "..." }}'
        sheet.refuse(path, raw, words, "wrong-type")
        return
    if not raw:
        sheet.refuse(path, raw, f"{place} says nothing: its target and what was weighed are wanted", "missing-value")
        return
    reading.table(_CHARGE, where=place)(sheet, path, raw)
    if "lots" in raw:
        for name in ("lot", "weighed"):
            if name in raw:
                words = f"{place} states '{name}' and 'lots'; with several lots each row has its own"
                sheet.refuse((*path, name), raw[name], words)


def _phase(sheet: Sheet, path: Path, raw: Any) -> None:
    where = f"phase {shown(path[1])}"
    reading.table({"charge": reading.each(_charge)}, required=("charge",), where=where)(sheet, path, raw)


def _steps(sheet: Sheet, path: Path, raw: Any) -> None:
    if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
        wrong_kind(sheet, path, raw, "an array of tables, [[step]],")
        return
    if len(raw) > _MOST_STEPS:
        sheet.refuse(path, raw[:1], f"{len(raw)} steps; a batch has at most {_MOST_STEPS}")
        return
    order: dict[str, None] = {}
    for position, row in enumerate(raw, 1):
        name = _step_name(sheet, row, position, order)
        order[name] = None
        for key, value in row.items():
            if key == "id":
                continue
            taker = _STEP.get(key)
            if taker is None:
                unknown(sheet, ("step", name, key), value, ("id", *_STEP), f"step '{shown(name)}'")
            else:
                taker(sheet, ("step", name, key), value)
    sheet.put(STEP_ORDER, tuple(order))


def _step_name(sheet: Sheet, row: dict[str, Any], position: int, order: dict[str, None]) -> str:
    """Name a step by its id; done again, it is "set-pH 2", with a blank, as no id can have."""
    raw = row.get("id")
    stand_in = f"step {position} without id"
    if raw is None:
        missing(sheet, ("step", stand_in), "id", f"step {position}")
        return stand_in
    if not isinstance(raw, str) or not _STEP_ID.fullmatch(raw) or len(raw) > reading.NAME_LIMIT:
        words = f"step {position}: '{shown(raw)}' is no id; letters, digits and hyphens make one"
        sheet.refuse(("step", stand_in, "id"), raw, words, "bad-id")
        return stand_in
    if raw not in order:
        return raw
    name = next((f"{raw} {n}" for n in range(2, _SAME_STEP) if f"{raw} {n}" not in order), None)
    if name is None:
        sheet.refuse(("step", stand_in, "id"), raw, f"step '{shown(raw)}' stands {_SAME_STEP} times", "bad-id")
    return name or stand_in


_KNOWN: Final[dict[str, Taker]] = {
    "title": reading.text,
    "recipe": reading.text,
    "commit": pin.commit,
    "hash": pin.content_hash,
    "size": reading.size("mass"),
    "date": reading.day,
    "made_by": reading.text,
    "checked_by": reading.text,
    "equipment": reading.members,
    "without_claims": reading.members,
    "made": reading.quantity("mass"),
    "pack": reading.size("volume", "mass"),
    "packs": _count,
    "planned_packs": _count,
    "overfill": reading.quantity("share"),
    "yield": reading.quantity("share"),
    "closed": reading.day,
    "note": reading.text,
    "phase": reading.each(_phase),
    "step": _steps,
    "result": reading.each(_result),
    "deviation": reading.rows(reading.table(_DEVIATION, required=("about", "why", "decided_by"))),
}


def read_batch(data: dict[str, Any]) -> Facts:
    """Read the data of a batch file into facts; refused values are among them as :class:`Unread`."""
    sheet = Sheet()
    reading.table(_KNOWN, required=("recipe", "commit", "hash", "size", "date"))(sheet, (), data)
    return sheet.facts


def place(facts: Facts, path: Path) -> tuple[str | int, ...]:
    """Turn a path of facts into the path of keys in the file: rows are numbered from 1 here, from 0 there."""
    if path[:1] == ("step",) and len(path) > 1:
        order = facts.get(STEP_ORDER, ())
        return ("step", order.index(path[1]) if path[1] in order else 0, *path[2:])
    if path[:1] == ("deviation",) and len(path) > 1 and path[1].isdigit():
        return ("deviation", int(path[1]) - 1, *path[2:])
    if path[:1] == ("phase",) and len(path) > 5 and path[4] == "lots" and path[5].isdigit():
        return (*path[:5], int(path[5]) - 1, *path[6:])
    return path
