"""Read the table of causes (`rules/packs/causes.toml`): data only, every bad row said."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.facts import Facts, Path
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker, wrong_kind
from formula_vcs.trace.cause_row import CHECKED, EFFECTS, KINDS, PRACTICE, QUANTITIES, ROLES


def _words(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, list) or not raw or not all(isinstance(item, str) and item.strip() for item in raw):
        wrong_kind(sheet, path, raw, 'a list of words, ["...", "..."],')
    else:
        sheet.put(path, tuple(raw))


def _of(*known: str) -> Taker:
    """Take a list of words that are all known."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        _words(sheet, path, raw)
        strange = [item for item in raw if item not in known] if isinstance(sheet.facts[path], tuple) else []
        if strange:
            words = f"'{path[-1]}': '{takers.shown(strange[0])}' is not known{takers.nearest(strange[0], known)}"
            sheet.refuse(path, raw, words)

    return take


_SYMPTOM: Final[dict[str, Taker]] = {"name": takers.text, "also": _words, "less": _words, "more": _words}
_FUNCTION: Final[dict[str, Taker]] = {"name": takers.text, "also": _words}
_CAUSE: Final[dict[str, Taker]] = {
    "id": takers.text,
    "symptom": takers.text,
    "kind": takers.one_of(*KINDS),
    "what": _of(*QUANTITIES),
    "name": _words,
    "of": _words,
    "role": _of(*ROLES),
    "forms": _words,
    "effect": takers.one_of(*EFFECTS),
    "why": takers.text,
    "source": takers.text,
    "checked": takers.one_of(*CHECKED),
}


def _cause(sheet: FactReader, path: Path, raw: Any) -> None:
    required = ("id", "symptom", "kind", "what", "effect", "why", "source")
    takers.table(_CAUSE, required=required, where=f"cause {path[-1]}")(sheet, path, raw)
    source = raw.get("source")
    practice = isinstance(source, str) and source.startswith(PRACTICE)
    if practice == ("checked" in raw):
        words = "common practice has no source to check" if practice else "say how the source was checked"
        sheet.refuse((*path, "checked"), raw.get("checked"), f"cause {path[-1]}: {words}")
    named = {"certificate", "result"} & set(raw.get("what", ()))
    if bool(named) != ("name" in raw):
        words = "a lot's value or a result is meant by its 'name', and nothing else has one"
        sheet.refuse((*path, "name"), raw.get("name"), f"cause {path[-1]}: {words}")


def read_causes(data: dict[str, Any]) -> Facts:
    """Read the data of a table of causes into facts; refused values are among them."""
    sheet = FactReader()
    symptom = takers.table(_SYMPTOM, required=("name",))
    function = takers.table(_FUNCTION, required=("name", "also"))
    known = {
        "title": takers.text,
        "function": takers.rows(function),
        "symptom": takers.rows(symptom),
        "cause": takers.rows(_cause),
    }
    takers.table(known, required=("title",))(sheet, (), data)
    return sheet.facts
