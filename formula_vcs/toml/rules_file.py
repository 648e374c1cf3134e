"""Read a pack of rules, one of the house's (`rules/*.toml`) or one that ships: data only, every bad row at its line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.finding import SEVERITIES
from formula_vcs.model.law_row import CHECKED, DIMENSIONS, KINDS, MARKETS, NEEDS, PARTICLES
from formula_vcs.toml import duty_rows, pairs_file, takers
from formula_vcs.toml.pairs_file import names as _names
from formula_vcs.toml.takers import FactReader, Taker, missing, shown, unknown, wrong_kind
from formula_vcs.units import unit_reading
from formula_vcs.words.late_pattern import late_pattern

_PH: Final = late_pattern(
    r"(?:(?P<open>below|at most) )?(?P<one>\d{1,2}(?:\.\d{1,4})?)(?: to (?P<two>\d{1,2}(?:\.\d{1,4})?))?"
)
_ABOUT: Final = ("substances", "group", "cas", "like")


def _cas(sheet: FactReader, path: Path, raw: Any) -> None:
    items = [raw] if isinstance(raw, str) else raw
    if not isinstance(items, list) or not items or not all(isinstance(item, str) for item in items):
        wrong_kind(sheet, path, raw, 'a list of CAS numbers, ["..."],')
        return
    for item in items:
        trouble = cas_trouble(item)
        if trouble:
            sheet.refuse(path, raw, f"'{shown(item)}' {trouble}")
            return
    sheet.put(path, tuple(items))


def _windows(sheet: FactReader, path: Path, raw: Any) -> None:
    items = [raw] if isinstance(raw, str) else raw
    if not isinstance(items, list) or not items or not all(isinstance(item, str) for item in items):
        wrong_kind(sheet, path, raw, 'a list of ranges, ["0.188 to 0.254 %"],')
        return
    found = []
    for item in items:
        try:
            span = unit_reading.read_range(item, "share")
        except unit_reading.QuantityError as bad:
            sheet.refuse(path, raw, f"'{path[-1]}': {bad.message}", "bad-quantity")
            return
        if span.low is None or span.high is None or span.low.dimension != "share":
            sheet.refuse(path, raw, f"'{path[-1]}': '{shown(item)}' is no range of shares", "bad-quantity")
            return
        found.append(span)
    sheet.put(path, tuple(found))


def _ph(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, str) or _PH.fullmatch(raw) is None:
        sheet.refuse(path, raw, f'\'{shown(raw)}\' is no pH; write "below 11", "at most 10.5" or "7 to 9.5"')
    else:
        sheet.put(path, raw)


def _above(sheet: FactReader, path: Path, raw: Any) -> None:
    taker = takers.each(_SHARE) if isinstance(raw, dict) else _SHARE
    taker(sheet, path, raw)


def _scope(sheet: FactReader, path: Path, raw: Any) -> None:
    takers.table(dict.fromkeys(DIMENSIONS, _names), where=f"'{path[-1]}' of row '{path[1]}'")(sheet, path, raw)


_SHARE: Final = takers.quantity("share")
_DAYS: Final = takers.table({"from": takers.day, "to": takers.day})
_ROW: Final[dict[str, Taker]] = {
    "entry": takers.text,
    "kind": takers.one_of(*KINDS),
    "substances": _names,
    "group": takers.text,
    "cas": _cas,
    "like": _names,
    "with": _names,
    "at_most": takers.quantity("share", "mass"),
    "between": _windows,
    "ph": _ph,
    "above": _above,
    "print": takers.text,
    "as": takers.text,
    "function": takers.text,
    "unless_function": takers.text,
    "unstated": takers.one_of("warn", "none"),
    "words": takers.text,
    "where": _scope,
    "unless": _scope,
    "placed": _DAYS,
    "sold": _DAYS,
    "severity": takers.one_of(*SEVERITIES),
    "per": takers.one_of("pack"),
    "checked": takers.one_of(*CHECKED),
    "source": takers.text,
    "because": takers.text,
    "note": takers.text,
}


def _rows(take: Taker) -> Taker:
    """Take an array of rows, each known by its id."""

    def rows(sheet: FactReader, path: Path, raw: Any) -> None:
        if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
            wrong_kind(sheet, path, raw, f"an array of tables, [[{path[0]}]],")
            return
        seen: set[str] = set()
        for position, row in enumerate(raw, 1):
            name = _row_id(sheet, path[0], row, position, seen)
            seen.add(name)
            take(sheet, (path[0], name), row)

    return rows


def _row_id(sheet: FactReader, kind: str, row: dict[str, Any], position: int, seen: set[str]) -> str:
    raw = row.get("id")
    stand_in = f"row-{position}"
    while stand_in in seen:
        stand_in += "-x"
    if raw is None:
        missing(sheet, (kind, stand_in), "id", f"[[{kind}]] number {position}")
        return stand_in
    if not isinstance(raw, str) or not takers.ID.fullmatch(raw) or len(raw) > takers.NAME_LIMIT:
        words = (
            f"[[{kind}]] number {position}: '{shown(raw)}' is no id; lower case letters, digits and hyphens make one"
        )
    elif raw in seen:
        words = f"two rows are called '{raw}'"
    else:
        return raw
    sheet.refuse((kind, stand_in, "id"), raw, words, "bad-id")
    return stand_in


def _row(sheet: FactReader, path: Path, row: dict[str, Any]) -> None:
    where = f"row '{path[1]}'"
    if all(key == "id" for key in row):
        sheet.put((*path, "kind"), Unread(None, f"{where} says nothing", "missing-value"))
        return
    for key, value in row.items():
        if key == "id":
            continue
        taker = _ROW.get(key)
        if taker is None:
            unknown(sheet, (*path, key), value, ("id", *_ROW), where)
        else:
            taker(sheet, (*path, key), value)
    for key in _lacking(row):
        missing(sheet, path, key, where)


def _lacking(row: dict[str, Any]) -> Iterator[str]:
    kind = row.get("kind")
    if kind is None:
        yield "kind"
    yield from (key for key in NEEDS.get(str(kind), ()) if key not in row)
    if kind not in ("ph", PARTICLES) and not any(key in row for key in _ABOUT):
        yield "substances"
    if "source" not in row and "entry" not in row:
        yield "source"


def read_rules(data: dict[str, Any]) -> Facts:
    """Read the data of a pack into facts: ``("rule", "pair" or "duty", id, key ...)``, ``("kind", name, key)``,
    ``("group", name)`` and the header.
    """
    sheet = FactReader()
    known: dict[str, Taker] = {
        "title": takers.text,
        "market": takers.one_of(*MARKETS),
        "cite": _any_text,
        "text": takers.text,
        "names": takers.one_of(*CHECKED),
        "note": takers.text,
        "above": takers.each(_SHARE),
        "group": takers.each(_names),
        "rule": _rows(_row),
        "pair": _rows(pairs_file.pair),
        "kind": duty_rows.house_kinds,
        "duty": _rows(duty_rows.house_row),
    }
    takers.table(known)(sheet, (), data)
    for path, value in list(sheet.facts.items()):
        if not isinstance(value, str) or len(path) != 3 or path[0] != "rule" or path[2] != "group":
            continue
        if ("group", value) not in sheet.facts:
            groups = [key[1] for key in sheet.facts if key[0] == "group"]
            hint = takers.nearest(value, groups)
            sheet.refuse(path, value, f"row '{path[1]}': there is no group '{shown(value)}' in this file{hint}")
    return sheet.facts


def _any_text(sheet: FactReader, path: Path, raw: Any) -> None:
    if isinstance(raw, str):
        sheet.put(path, raw)
    else:
        wrong_kind(sheet, path, raw, 'a text in quotes, "..."')


def place(facts: Facts, path: Path) -> tuple[str | int, ...]:
    """Turn a path of facts into the path of keys in the file: rows by their position."""
    if path[:1] in (("rule",), ("pair",), ("duty",)) and len(path) > 1:
        order = list(dict.fromkeys(key[1] for key in facts if key[0] == path[0] and len(key) > 1))
        return (path[0], order.index(path[1]) if path[1] in order else 0, *path[2:])
    return path
