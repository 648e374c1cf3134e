"""Read rows of the table of duties, of the pack that ships or of a house: which evidence a class of change outdates."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, Final

from formula_vcs.model.duty_rule import CLASSES
from formula_vcs.model.facts import Path
from formula_vcs.model.law_row import CHECKED
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker, missing, shown


def kinds_of_evidence(known: Collection[str] | None) -> Taker:
    """Take a list of kinds of evidence: of those known, or any ids where others say what is known."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        takers.listed(sheet, path, raw)
        found = sheet.facts.get(path)
        for name in found if isinstance(found, tuple) else ():
            strange = not takers.ID.fullmatch(str(name)) if known is None else name not in known
            if strange:
                hint = takers.nearest(str(name), known or ()) if known is not None else _ID
                sheet.refuse(path, raw, f"'{shown(name)}' is no kind of evidence{hint}")
                return

    return take


_ID: Final = "; lower case letters, digits and hyphens make a name of one"


def _size(sheet: FactReader, path: Path, raw: Any) -> None:
    if isinstance(raw, str) and raw.endswith("K"):
        takers.difference(sheet, path, raw)
    else:
        takers.quantity("share", "number")(sheet, path, raw)


def row(known: dict[str, Taker], required: tuple[str, ...]) -> Taker:
    """Take a row by a table of keys that begins with `keys`; its size is one that its class of change has."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        where = f"row '{path[-1]}'"
        takers.table(known, required=required, where=where)(sheet, path, raw)
        if not ("repeat" in raw or "decide" in raw):
            missing(sheet, path, "repeat", where)
        above, wants = sheet.facts.get((*path, "above")), CLASSES.get(str(raw.get("when")), "")
        if above is not None and getattr(above, "dimension", wants) != wants:
            what = f"a {wants}" if wants else "no size"
            sheet.refuse((*path, "above"), raw["above"], f"'above': the class '{shown(raw.get('when'))}' has {what}")

    return take


def keys(kinds: Collection[str] | None) -> dict[str, Taker]:
    """Give the keys of a row; ``kinds`` are the kinds of evidence that it may name, any where it is None."""
    return {
        "when": takers.one_of(*CLASSES),
        "of": takers.members,
        "above": _size,
        "repeat": kinds_of_evidence(kinds),
        "decide": kinds_of_evidence(kinds),
        "source": takers.text,
        "checked": takers.one_of(*CHECKED),
    }


# Who makes a kind of evidence, in which words, and on what ground it is wanted at all.
WORK: Final[dict[str, Taker]] = {
    "owner": takers.text,
    "repeat": takers.text,
    "decide": takers.text,
    "source": takers.text,
    "checked": takers.one_of(*CHECKED),
}


_HOUSE_ROW: Final = row({**keys(None), "note": takers.text}, ("when", "source"))


def house_row(sheet: FactReader, path: Path, raw: dict[str, Any]) -> None:
    """Take a row of the house's own table, ``[[duty]]``, known by its id."""
    _HOUSE_ROW(sheet, path, {key: value for key, value in raw.items() if key != "id"})


def house_kinds(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take kinds of evidence of the house's own, ``[kind.NAME]``."""
    taker = takers.each(takers.table({**WORK, "note": takers.text}, required=("owner", "source")))
    taker(sheet, path, raw)
    for name in raw if isinstance(raw, dict) else ():
        if not takers.ID.fullmatch(name):
            sheet.refuse((*path, name), name, f"'{shown(name)}' is no name of a kind of evidence{_ID}", "bad-id")
