"""What a person has said about sheets like these, and what is still to be asked; kept in ``import.toml``."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any, Final

from formula_vcs.model.values import dataclass, field, replace

# --- What an import has to say of a sheet: rows taken, rows left and why, what is unclear, what is to be asked


@dataclass(frozen=True, slots=True)
class SheetRemark:
    """One line about a place of a sheet: ``file: Sheet!C7``."""

    place: str
    words: str


@dataclass
class TableOutcome:
    """One table of a sheet: as what it was read, and what came of it."""

    place: str
    kind: str
    heads: str
    mapping: list[tuple[str, str]] = field(default_factory=list)
    taken: list[SheetRemark] = field(default_factory=list)
    left: list[SheetRemark] = field(default_factory=list)
    unclear: list[SheetRemark] = field(default_factory=list)
    questions: list[ImportQuestion] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    rows: int = 0
    same: int = 0

    def take(self, place: str, words: str) -> None:
        """Say what is taken from a cell."""
        self.taken.append(SheetRemark(place, words))

    def leave(self, place: str, words: str) -> None:
        """Say what is left alone, and why."""
        self.left.append(SheetRemark(place, words))

    def doubt(self, place: str, words: str) -> None:
        """Say what cannot be read as one value."""
        self.unclear.append(SheetRemark(place, words))

    def ask(self, question: ImportQuestion) -> None:
        """Ask, once for a key."""
        if all(other.key != question.key for other in self.questions):
            self.questions.append(question)


# --- What a person has said about sheets like these, and what is still to be asked; kept in ``import.toml``


IMPORT_FILE: Final = "import.toml"
KINDS: Final = ("formulas", "materials", "prices", "allergens", "weighings")
_FIRST: Final = (
    "# What `git formula import` was told, so that the next list of this kind needs no question.\n"
    "# [names]: a name on a sheet, and the ingredient that it means. [[table]]: a kind of table, by its heads.\n"
)


@dataclass(frozen=True, slots=True)
class ImportQuestion:
    """Something that the sheet does not say: in words, and the option that answers it."""

    key: str
    words: str
    option: str
    choices: tuple[str, ...] = ()
    place: str = ""


@dataclass(frozen=True)
class Answers:
    """What was said: ``told`` of this run goes before what is remembered, by the heads of a table."""

    told: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    tables: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    since: datetime.date | None = None
    batch: str = ""
    sheets: tuple[str, ...] = ()
    replace: bool = False

    def of(self, heads: str, key: str) -> str:
        """Give what was said about a table, nothing where it was not asked."""
        return self.told.get(key) or self.tables.get(heads, {}).get(key, "")

    def columns(self, heads: str) -> dict[str, str]:
        """Give roles by the folded heads of columns."""
        given = {**self.tables.get(heads, {}), **self.told}
        return {value: key[len("column.") :] for key, value in given.items() if key.startswith("column.")}

    def with_told(self, key: str, value: str) -> Answers:
        """Give the answers with one more."""
        if key.startswith("name:"):
            return replace(self, names={**self.names, key[len("name:") :]: value})
        if key == "since":
            return replace(self, since=datetime.date.fromisoformat(value))
        if key == "batch":
            return replace(self, batch=value)
        return replace(self, told={**self.told, key: value})


def remembered(data: Mapping[str, Any]) -> Answers:
    """Read the data of ``import.toml``; what it does not hold in the form wanted is left out."""
    names = data.get("names", {})
    tables: dict[str, dict[str, str]] = {}
    rows = data.get("table", [])
    for row in rows if isinstance(rows, list) else []:
        if isinstance(row, dict) and isinstance(row.get("heads"), str):
            tables[row["heads"]] = {
                key: value for key, value in _flat(row).items() if key != "heads" and isinstance(value, str)
            }
    kept = {k: v for k, v in names.items() if isinstance(v, str)} if isinstance(names, dict) else {}
    return Answers(names=kept, tables=tables)


def _flat(row: Mapping[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in row.items():
        if isinstance(value, dict):
            found.update({f"{key}.{inner}": inside for inner, inside in value.items()})
        else:
            found[key] = value
    return found


def data_of(answers: Answers, used: Mapping[str, frozenset[str]]) -> dict[str, Any]:
    """Give ``import.toml``'s data with what was said in this run, for the tables that it was said about.

    ``used`` gives the keys of ``told`` that a table asked for, by its heads.
    """
    data: dict[str, Any] = {}
    if answers.names:
        data["names"] = dict(answers.names)
    tables = {heads: dict(table) for heads, table in answers.tables.items()}
    for heads, keys in used.items():
        said = {key: answers.told[key] for key in sorted(keys) if key in answers.told}
        if said:
            tables[heads] = {**tables.get(heads, {}), **said}
    rows = []
    for heads, table in tables.items():
        row: dict[str, Any] = {"heads": heads}
        for key, value in table.items():
            group, dot, name = key.partition(".")
            if dot:
                row.setdefault(group, {})[name] = value
            else:
                row[key] = value
        rows.append(row)
    if rows:
        data["table"] = rows
    return data


def import_text(old: str | None, data: Mapping[str, Any]) -> str:
    """Give the text of ``import.toml`` with the data, comments kept.

    :raises CannotWrite: the file that is there cannot be changed like that.
    """
    from formula_vcs.toml.text_edits import with_data

    return with_data(_FIRST if old is None else old, dict(data))
