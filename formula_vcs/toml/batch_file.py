"""Read a batch file: one making of a recipe, with its targets and what was really done."""

from __future__ import annotations

import datetime
from typing import Any, Final

from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.recipe import SHEAR_MODES, STEP_ORDER
from formula_vcs.toml import spec_lines, takers, version_pin
from formula_vcs.toml.takers import FactReader, Taker, missing, shown, unknown, wrong_kind
from formula_vcs.toml.vacuum import vacuum
from formula_vcs.words.late_pattern import late_pattern

_STEP_ID: Final = late_pattern(r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*")
_MOST_STEPS: Final = 1000
_SAME_STEP: Final = 100


def _count(sheet: FactReader, path: Path, raw: Any) -> None:
    value = takers.exact(raw)
    if isinstance(value, str):
        sheet.refuse(path, raw, f"'{path[-1]}' is {value}", "bad-quantity")
    elif value != value.to_integral_value():
        sheet.refuse(path, raw, f"'{path[-1]}' is {value}; packs are counted in whole numbers", "bad-quantity")
    else:
        sheet.put(path, value.to_integral_value())


def _moment(sheet: FactReader, path: Path, raw: Any) -> None:
    if isinstance(raw, datetime.datetime):
        sheet.put(path, raw)
    else:
        wrong_kind(sheet, path, raw, "a date with a time and without quotes, 2026-03-04T09:30:00,")


def _measured(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take what a step measured: a number, or a quantity of any kind."""
    if not isinstance(raw, str) and not isinstance(takers.exact(raw), str):
        raw = str(raw)
    takers.span()(sheet, path, raw)


_PORTION: Final[dict[str, Taker]] = {
    "step": takers.text,
    "target": takers.quantity("mass"),
    "weighed": takers.quantity("mass"),
    "lot": takers.text,
    "balance": takers.text,
    "at": _moment,
    "by": takers.text,
    "note": takers.text,
}
_CHARGE: Final[dict[str, Taker]] = {
    "target": takers.quantity("mass"),
    "weighed": takers.quantity("mass"),
    "lot": takers.text,
    "lots": takers.rows(takers.table(_PORTION)),
    "balance": takers.text,
    "at": _moment,
    "by": takers.text,
    "checked_by": takers.text,
    "note": takers.text,
}
# A step's values: what was asked for stands in its target, what was done beside it.
_VALUES: Final[dict[str, Taker]] = {
    "shear": takers.one_of(*SHEAR_MODES),
    "mixer": takers.text,
    "speed": takers.span("speed", "velocity"),
    "time": takers.span("time"),
    "temp": takers.span("temperature"),
    "vacuum": vacuum,
    "rest": takers.span("time"),
    "viscosity": takers.span("viscosity"),
}
_STEP: Final[dict[str, Taker]] = {
    "target": takers.table({**_VALUES, "accept": _measured}),
    "scaled": takers.text,
    "started": _moment,
    "ended": _moment,
    **_VALUES,
    "measured": _measured,
    "done_by": takers.text,
    "checked_by": takers.text,
    "note": takers.text,
}
_DEVIATION: Final[dict[str, Taker]] = {
    "about": takers.text,
    "why": takers.text,
    "decided_by": takers.text,
    "date": takers.day,
    "note": takers.text,
}


def _charge(sheet: FactReader, path: Path, raw: Any) -> None:
    place = f"phase {shown(path[1])}, '{shown(path[3])}'"
    if not isinstance(raw, dict):
        words = f'{place} is {takers.kind_of(raw)}; write {{ target = "1 kg", weighed = "1.002 kg", lot = "..." }}'
        sheet.refuse(path, raw, words, "wrong-type")
        return
    if not raw:
        sheet.refuse(path, raw, f"{place} says nothing: its target and what was weighed are wanted", "missing-value")
        return
    takers.table(_CHARGE, where=place)(sheet, path, raw)
    if "lots" in raw:
        for name in ("lot", "weighed"):
            if name in raw:
                words = f"{place} states '{name}' and 'lots'; with several lots each row has its own"
                sheet.refuse((*path, name), raw[name], words)


def _phase(sheet: FactReader, path: Path, raw: Any) -> None:
    where = f"phase {shown(path[1])}"
    takers.table({"charge": takers.each(_charge)}, required=("charge",), where=where)(sheet, path, raw)


def _steps(sheet: FactReader, path: Path, raw: Any) -> None:
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


def _step_name(sheet: FactReader, row: dict[str, Any], position: int, order: dict[str, None]) -> str:
    """Name a step by its id; done again, it is "set-pH 2", with a blank, as no id can have."""
    raw = row.get("id")
    stand_in = f"step {position} without id"
    if raw is None:
        missing(sheet, ("step", stand_in), "id", f"step {position}")
        return stand_in
    if not isinstance(raw, str) or not _STEP_ID.fullmatch(raw) or len(raw) > takers.NAME_LIMIT:
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
    "title": takers.text,
    "recipe": takers.text,
    "commit": version_pin.commit,
    "hash": version_pin.content_hash,
    "size": takers.size("mass"),
    "date": takers.day,
    "unapproved": takers.text,
    "made_by": takers.text,
    "checked_by": takers.text,
    "equipment": takers.members,
    "without_claims": takers.members,
    "made": takers.quantity("mass"),
    "pack": takers.size("volume", "mass"),
    "packs": _count,
    "planned_packs": _count,
    "overfill": takers.quantity("share"),
    "yield": takers.quantity("share"),
    "closed": takers.day,
    "note": takers.text,
    "phase": takers.each(_phase),
    "step": _steps,
    "result": takers.each(spec_lines.result_line),
    "deviation": takers.rows(takers.table(_DEVIATION, required=("about", "why", "decided_by"))),
}


def read_batch(data: dict[str, Any]) -> Facts:
    """Read the data of a batch file into facts; refused values are among them as :class:`Unread`."""
    sheet = FactReader()
    takers.table(_KNOWN, required=("recipe", "commit", "hash", "size", "date"))(sheet, (), data)
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
