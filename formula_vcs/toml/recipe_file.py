"""Read a recipe file: header, phases with charges, steps, spec, accepted findings (`formula_vcs/manual/files.md`)."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from itertools import count
from typing import Any, Final

from formula_vcs.model.amount import Accepted, Addition, Amount, BookTotal
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.product import AREAS, HOW, KINDS, SPRAYS, audience, share_mixed
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.recipe import MODES, SCALE_RULES, SHEAR_MODES, STEP_ORDER, WEIGHT_IN_VOLUME
from formula_vcs.toml import spec_lines, takers
from formula_vcs.toml.takers import FactReader, kind_of, missing, shown, unknown, wrong_kind
from formula_vcs.toml.vacuum import vacuum
from formula_vcs.units import unit_reading
from formula_vcs.words.late_pattern import late_pattern

FORMS: Final = ("emulsion", "aqueous", "anhydrous", "surfactant", "powder", "paste", "bar")
# unlike a file's name, a step's id may have capitals: "set-pH"
_STEP_ID: Final = late_pattern(r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*")
_TO: Final = late_pattern(r"to\s+(.+)", re.IGNORECASE)
_NUMBER: Final = late_pattern(r"\d{1,12}(?:\.\d{1,20})?")
_OPEN: Final = late_pattern(r"q\.?\s*s\.?", re.IGNORECASE)
_ABOUT: Final = late_pattern(r"(?:about|abt\.?|approx\.?|circa|ca\.?)\s+(.+)", re.IGNORECASE)
_BARE: Final = late_pattern(r"(\d{1,9}(?:[.,]\d{1,9})?)\s*%?")
# as the trade writes it in German, French, Latin and Spanish
_FILLS: Final = late_pattern(r"(?:ad|add|auf|q\.?\s*s\.?\s*p?\.?|c\.?\s*s\.?\s*p\.?)\s*100\s*%?", re.IGNORECASE)
_UNIT_OF: Final = {"percent": "; it is % w/w", "parts": ""}
_HUNDRED: Final = Decimal(100)


def _amount_text(raw: str, mode: str) -> Amount | str:
    """Read an amount in quotes; a str is the reason why it is none."""
    if _OPEN.fullmatch(raw.strip()):
        return Amount("open", text=raw.strip())
    filled = _TO.fullmatch(raw.strip())
    if filled:
        return _balance(raw.strip(), filled[1].strip(), mode)
    bare = _BARE.fullmatch(raw.strip())
    if bare is not None and (mode == "percent" or (mode == "parts" and "%" not in raw)):
        return f"'{shown(raw)}': write the bare number, {bare[1].replace(',', '.')}, without quotes{_UNIT_OF[mode]}"
    if _FILLS.fullmatch(raw.strip()):
        return f"'{shown(raw)}': what fills up is written \"to 100\""
    if mode == "percent":
        return f"'{shown(raw)}' is no amount; % w/w is written as a bare number (4.00), the balance as \"to 100\""
    if mode == "parts":
        return f"'{shown(raw)}' is no amount; parts are bare numbers (or set amounts = \"mass\" in the header)"
    return _mass(raw)


def _mass(raw: str) -> Amount | str:
    try:
        found = unit_reading.read_range(raw)
    except unit_reading.QuantityError as bad:
        return bad.message
    if not found.single or found.low is None:
        return f"'{shown(raw)}' is a range; an amount is one number"
    if found.low.dimension not in ("mass", "volume"):
        return f"'{shown(raw)}' is a {found.low.dimension}; a mass or a volume is wanted here"
    return Amount("mass" if found.low.dimension == "mass" else "volume", quantity=found.low, text=raw.strip())


def _balance(raw: str, whole: str, mode: str) -> Amount | str:
    if mode == "mass":
        inner = _mass(whole)
        if isinstance(inner, str):
            return inner
        return Amount("balance", quantity=inner.quantity, text=raw)
    if mode == WEIGHT_IN_VOLUME:
        if whole not in ("100", "100 mL", "100 ml"):
            return f'\'{shown(raw)}\': % w/v fills up to 100 mL; other sizes take amounts = "mass", "to 1000 mL"'
        return Amount("balance", value=_HUNDRED, text=raw)
    if not _NUMBER.fullmatch(whole):
        return f"'{shown(raw)}' is no balance; write \"to 100\""
    number = Decimal(whole)
    if mode == "percent" and number != _HUNDRED:
        return f"'{shown(raw)}': percentages fill up to 100"
    if number == 0:
        return f"'{shown(raw)}' fills up to nothing"
    return Amount("balance", value=number, text=raw)


def _amount(raw: Any, mode: str) -> Amount | str:
    if isinstance(raw, str):
        return _amount_text(raw, mode)
    value = takers.exact(raw)
    if isinstance(value, str):
        return f"the amount is {value}"
    if mode == "mass":
        return f"'{shown(raw)}' has no unit; write a mass, \"12 g\""
    return Amount("percent" if mode == "percent" else "parts", value=value, text=f"{value:f}")


def _charge_taker(mode: str) -> takers.Taker:
    more: dict[str, takers.Taker] = {
        "for": takers.text,
        "at_most": takers.percent,
        "at_least": takers.percent,
        "rebuilds": takers.text,
        "tolerance": takers.quantity("share"),
        "second_check": takers.yes_no,
        "note": takers.text,
    }
    names = ("pct", "amount", *more) if mode == "percent" else ("amount", "pct", *more)

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        place = f"phase {path[1]}, '{shown(path[3])}'"
        amount_raw = raw
        if isinstance(raw, dict):
            amount_raw = raw.get("pct", raw.get("amount"))
            for key, value in raw.items():
                if key in more:
                    more[key](sheet, (*path, key), value)
                elif key not in ("pct", "amount"):
                    unknown(sheet, (*path, key), value, names, place)
            if amount_raw is None:
                missing(sheet, path, names[0], place)
                return
            if "pct" in raw and "amount" in raw:
                sheet.refuse((*path, "amount"), raw["amount"], f"{place} states 'pct' and 'amount'; one is enough")
        amount = _amount(amount_raw, mode)
        if isinstance(amount, str):
            sheet.refuse(path, amount_raw, f"{place}: {amount}", "bad-quantity")
        else:
            sheet.put(path, amount)

    return take


def _phases(mode: str) -> takers.Taker:
    known = {"title": takers.text, "note": takers.text, "charge": takers.each(_charge_taker(mode))}

    def take_phase(sheet: FactReader, path: Path, raw: Any) -> None:
        before = len(sheet.facts)
        if "/" in path[1]:
            words = f"phase '{shown(path[1])}': a phase's name has no '/'; steps write phase/ingredient"
            sheet.refuse((*path, "name"), path[1], words, "bad-id")
        takers.table(known, where=f"phase {path[1]}")(sheet, path, raw)
        if len(sheet.facts) == before:
            sheet.put(path, True)

    return takers.each(take_phase)


_ADDITION: Final[dict[str, takers.Taker]] = {"what": takers.text, "share": takers.quantity("share")}


def _additions(sheet: FactReader, path: Path, raw: Any) -> None:
    items = raw if isinstance(raw, list) else [raw]
    found: list[Addition] = []
    for item in items:
        addition = _addition(item)
        if isinstance(addition, Unread):
            sheet.refuse(path, raw, f"step '{shown(path[1])}', add: {addition.message}", addition.rule)
            return
        found.append(addition)
    sheet.put(path, tuple(found))


def _addition(item: Any) -> Addition | Unread:
    if isinstance(item, str):
        return Addition(item.strip())
    if not isinstance(item, dict):
        words = f'{kind_of(item)} is no addition; write "A", "A/glycerin" or {{ what = "A/water", share = "80 %" }}'
        return Unread(item, words, "wrong-type")
    part = FactReader()
    takers.table(_ADDITION, required=("what",), where="it")(part, (), item)
    refused = [value for value in part.facts.values() if isinstance(value, Unread)]
    return refused[0] if refused else Addition(part.facts["what",].strip(), part.facts.get(("share",)))


def _accept(sheet: FactReader, path: Path, raw: Any) -> None:
    if isinstance(raw, int | Decimal) and not isinstance(raw, bool):
        raw = str(raw)
    measure = sheet.facts.get((*path[:-1], "measure"))
    taker = takers.span("number") if measure == "pH" else takers.span()
    taker(sheet, path, raw)


_STEP: Final[dict[str, takers.Taker]] = {
    "title": takers.text,
    "into": takers.text,
    "add": _additions,
    "from": takers.listed,
    "shear": takers.one_of(*SHEAR_MODES),
    "mixer": takers.text,
    "speed": takers.span("speed", "velocity"),
    "time": takers.span("time"),
    "temp": takers.span("temperature"),
    "measure": takers.text,
    "accept": _accept,
    "adjust": takers.listed,
    "vacuum": vacuum,
    "rest": takers.span("time"),
    "scale": takers.one_of(*SCALE_RULES),
    "apart_at_most": takers.difference,
    "viscosity": takers.span("viscosity"),
    "second_check": takers.yes_no,
    "note": takers.text,
}


_MOST_STEPS: Final = 1000


def _steps(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
        wrong_kind(sheet, path, raw, "an array of tables, [[step]],")
        return
    if len(raw) > _MOST_STEPS:
        sheet.refuse(path, raw[:1], f"{len(raw)} steps; a recipe has at most {_MOST_STEPS}")
        return
    order: dict[str, int] = {}
    for position, row in enumerate(raw, 1):
        name = _step_id(sheet, row, position, order)
        order[name] = position
        # "accept" is read by what is measured, so it comes last whatever the order in the file
        keys = sorted(row, key=lambda key: key == "accept")
        for key in keys:
            if key == "id":
                continue
            taker = _STEP.get(key)
            if taker is None:
                unknown(sheet, ("step", name, key), row[key], ("id", *_STEP), f"step '{name}'")
            else:
                taker(sheet, ("step", name, key), row[key])
    if order:
        sheet.put(STEP_ORDER, tuple(order))


def _step_id(sheet: FactReader, row: dict[str, Any], position: int, order: dict[str, int]) -> str:
    raw = row.get("id")
    stand_in = f"step {position}"  # with a blank, as no id can be
    if raw is None:
        missing(sheet, ("step", stand_in), "id", f"step {position}")
        return stand_in
    if not isinstance(raw, str) or not _STEP_ID.fullmatch(raw) or len(raw) > takers.NAME_LIMIT:
        words = f"step {position}: '{shown(raw)}' is no id; letters, digits and hyphens make one"
        sheet.refuse(("step", stand_in, "id"), raw, words, "bad-id")
        return stand_in
    if raw in order:
        words = f"two steps are called '{raw}': step {order[raw]} and step {position}"
        sheet.refuse(("step", stand_in, "id"), raw, words, "bad-id")
        return stand_in
    return raw


_MOST_ACCEPTED: Final = 200  # each is held against every finding


def _accepts(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
        wrong_kind(sheet, path, raw, "an array of tables, [[accept]],")
        return
    if len(raw) > _MOST_ACCEPTED:
        sheet.refuse(path, raw[:1], f"{len(raw)} findings are accepted; a recipe may accept {_MOST_ACCEPTED}")
        return
    for position, row in enumerate(raw, 1):
        _accepted(sheet, position, row)


def _accepted(sheet: FactReader, position: int, row: dict[str, Any]) -> None:
    place = f"[[accept]] number {position}"
    part = FactReader()
    known = {"rule": takers.text, "about": takers.text, "why": takers.text, "until": takers.day}
    takers.table(known, required=("rule", "why"), where=place)(part, ("accept", str(position)), row)
    if any(not isinstance(value, str) and key[-1] != "until" for key, value in part.facts.items()) or isinstance(
        part.facts.get(("accept", str(position), "until")), Unread
    ):
        sheet.facts.update(part.facts)
        return
    key = ("accept", row["rule"].strip(), row.get("about", "").strip())
    if key in sheet.facts:
        sheet.refuse(("accept", str(position), "again"), plain_row(row), f"{place} repeats an earlier one")
        return
    sheet.put(key, Accepted(row["why"], row.get("until")))


def plain_row(row: dict[str, Any]) -> Any:
    """Give a row as comparable data."""
    return takers.plain(row)


def _total(sheet: FactReader, path: Path, raw: Any) -> None:
    about = False
    whole = raw
    if isinstance(raw, str):
        match = _ABOUT.fullmatch(raw.strip())
        about, whole = (True, match[1]) if match else (False, raw.strip())
    found = _book_total(whole)
    if isinstance(found, str):
        sheet.refuse(path, raw, f"'total': {found}", "bad-quantity")
    else:
        sheet.put(path, BookTotal(found.value, found.quantity, about, str(raw).strip()))


def _book_total(whole: Any) -> BookTotal | str:
    if isinstance(whole, str) and not _NUMBER.fullmatch(whole):
        amount = _mass(whole)
        if isinstance(amount, str):
            return amount
        if amount.kind != "mass":
            return f"'{shown(whole)}' is a volume; a total is a mass or a number of parts"
        return BookTotal(quantity=amount.quantity)
    try:
        value = Decimal(whole) if isinstance(whole, str) else takers.exact(whole)
    except InvalidOperation:  # pragma: no cover - the pattern above admits only digits
        return "no number"
    return value if isinstance(value, str) else BookTotal(value=value)


def _made_for(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, str):
        wrong_kind(sheet, path, raw, f"who uses the product, {HOW},")
    elif audience(raw) is None:
        sheet.refuse(path, raw, f"'for': '{shown(raw)}' does not say who uses the product; write {HOW}")
    else:
        sheet.put(path, " ".join(raw.split()))


def _mixed(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, str):
        wrong_kind(sheet, path, raw, 'parts of this to parts of the other, "1 to 1.5",')
    elif share_mixed(raw) is None:
        words = (
            f"'mixed': '{shown(raw)}' is no ratio; write parts of this to parts of what it is mixed with, \"1 to 1.5\""
        )
        sheet.refuse(path, raw, words)
    else:
        sheet.put(path, " ".join(raw.split()))


def _areas(sheet: FactReader, path: Path, raw: Any) -> None:
    if isinstance(raw, list) and len(raw) > len(AREAS):
        sheet.refuse(path, raw[:1], f"'area' names {len(raw)} areas of the body; there are {len(AREAS)}")
        return
    takers.members(sheet, path, raw)
    for named, value in list(sheet.facts.items()):
        if named[:-1] == path and value is True and named[-1] not in AREAS:
            hint = takers.nearest(named[-1], AREAS) or f"; known: {', '.join(AREAS)}"
            sheet.refuse(named, named[-1], f"'area': '{shown(named[-1])}' is no area of the body{hint}")


def _own_claims(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take claims in the house's own words: each is a key, its value the kind of proof that it needs."""
    if not isinstance(raw, dict):
        words = 'a table of claims and the proof that each needs, [claim] with "hydrates for 24 hours" = "efficacy",'
        takers.wrong_kind(sheet, path, raw, words)
        return
    takers.each(takers.text)(sheet, path, raw)
    for words in raw:
        if not words.strip():
            sheet.refuse((*path, words), words, "[claim] holds an empty text")


def _yield(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take the share of what goes in that comes out: more than nothing, and no more than all."""
    takers.size("share")(sheet, path, raw)
    value = sheet.facts[path]
    if isinstance(value, Quantity) and value.base > 1:
        sheet.refuse(path, raw, f"'yield': {value} is more than what went in", "bad-quantity")


def read_recipe(data: dict[str, Any]) -> Facts:
    """Read the data of a recipe file into facts; refused values are among them as :class:`Unread`."""
    sheet = FactReader()
    mode = data.get("amounts", "percent")
    mode = mode if mode in MODES else "percent"
    known: dict[str, Callable[[FactReader, Path, Any], None]] = {
        "title": takers.text,
        "product": takers.text,
        "form": takers.one_of(*FORMS),
        "emulsion": takers.one_of(*KINDS),
        "for": _made_for,
        "spray": takers.one_of(*SPRAYS),
        "hydroalcoholic": takers.yes_no,
        "mixed": _mixed,
        "area": _areas,
        "markets": takers.members,
        "claims": takers.members,
        "claim": _own_claims,
        "pack": takers.size("volume", "mass"),
        "packaging": takers.text,
        "yield": _yield,
        "batch": takers.size("mass"),
        "amounts": takers.one_of(*MODES),
        "density": takers.size("density"),
        "total": _total,
        "set_point": takers.quantity("temperature"),
        "rest_at_least": takers.quantity("time"),
        "note": takers.text,
        "phase": _phases(mode),
        "step": _steps,
        "spec": takers.each(spec_lines.spec_line),
        "accept": _accepts,
    }
    takers.table(known, required=("title",))(sheet, (), data)
    return sheet.facts


def place(facts: Facts, path: Path) -> tuple[str | int, ...]:
    """Turn a path of facts into the path of keys in the file: steps and accepted findings by their position."""
    if path[:1] == ("step",) and len(path) > 1:
        order = facts.get(STEP_ORDER, ())
        position = order.index(path[1]) if path[1] in order else 0
        # an element of a list is named by its number, from 0
        return ("step", position, *(int(name) if name.isdigit() else name for name in path[2:]))
    if path[:1] == ("accept",) and len(path) > 2:
        return _accept_place(facts, path)
    return path


def _accept_place(facts: Facts, path: Path) -> tuple[str | int, ...]:
    """Find the row of an accepted finding; those that were refused are known by their numbers, from 1."""
    if path[1].isdigit() and not isinstance(facts.get(path), Accepted):
        return ("accept", int(path[1]) - 1, *path[2:])
    refused = {key[1] for key, value in facts.items() if key[0] == "accept" and not isinstance(value, Accepted)}
    good = [key for key, value in facts.items() if key[0] == "accept" and isinstance(value, Accepted)]
    numbers = (number for number in count() if str(number + 1) not in refused)
    return next((("accept", number) for key, number in zip(good, numbers, strict=False) if key == path), ("accept",))
