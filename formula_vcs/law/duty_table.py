"""The table of duties: which evidence a change outdates, and who makes it anew; as it ships, and with the house's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final

from formula_vcs.law.packs_in_force import shipped
from formula_vcs.model.duty_rule import DutyRule, DutyWork
from formula_vcs.model.evidence import KINDS, title
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.law_row import CHECKED
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass
from formula_vcs.model.workspace import Workspace
from formula_vcs.toml import duty_rows, takers
from formula_vcs.toml.takers import FactReader, Taker

# --- Read the pack of duties: which evidence a class of change outdates from which size on


_ROW: Final[dict[str, Taker]] = {"id": takers.text, **duty_rows.keys(KINDS)}
_ROW_TAKER: Final = duty_rows.row(_ROW, ("id", "when", "source", "checked"))
_SCHEME: Final[dict[str, Taker]] = {"source": takers.text, "checked": takers.one_of(*CHECKED)}


def _works(sheet: FactReader, path: Path, raw: Any) -> None:
    known = dict.fromkeys(KINDS, takers.table(duty_rows.WORK, required=tuple(duty_rows.WORK)))
    takers.table(known, required=KINDS)(sheet, path, raw)


_PACK: Final[dict[str, Taker]] = {
    "title": takers.text,
    "scale": takers.text,
    "note": takers.text,
    "kind": _works,
    "scheme": takers.each(takers.table(_SCHEME, required=tuple(_SCHEME))),
    "row": takers.rows(_ROW_TAKER),
}


def read_duties(data: dict[str, Any]) -> Facts:
    """Read the data of the pack into facts; refused values are among them as :class:`Unread`."""
    sheet = FactReader()
    takers.table(_PACK, required=tuple(_PACK))(sheet, (), data)
    names: set[str] = set()
    for path, value in list(sheet.facts.items()):
        if path[0] == "row" and path[2:] == ("id",):
            if value in names:
                sheet.refuse(path, value, f"two rows are called '{value}'")
            names.add(str(value))
    return sheet.facts


# --- The table of duties: which evidence a change outdates, and who makes it anew; as it ships, and with the house's


KIND: Final = "kind"
DUTY: Final = "duty"


@dataclass(frozen=True)
class DutyTable:
    """The rows of each class of change, and who makes which kind of evidence, those of the house among them.

    ``kinds`` are in their order: those that ship, then the house's.  The house only adds: of all rows that fit the
    strictest wins, and a kind that ships keeps its words.
    """

    lines: Mapping[str, tuple[DutyRule, ...]]
    works: Mapping[str, DutyWork]

    @property
    def kinds(self) -> tuple[str, ...]:
        """Name the kinds of evidence."""
        return tuple(self.works)

    def work(self, kind: str, scheme: str = "") -> DutyWork:
        """Who makes a kind of evidence; of a certificate the ground is what its scheme says."""
        found = self.works.get(kind)
        if found is None:  # a proof of a kind that nobody names; a rule says so
            return _plain(kind)
        of = _table()["scheme"] if kind == "certificate" else {}
        named = max((name for name in of if scheme.startswith(name)), key=len, default="")
        return DutyWork(found.owner, found.repeat, found.decide, of[named]["source"]) if named else found

    def rank(self, kind: str) -> int:
        """The place of a kind in their order; one that nobody names comes last."""
        return self.kinds.index(kind) if kind in self.works else len(self.works)

    def joined(self, other: DutyTable) -> DutyTable:
        """The table that has the rows and the kinds of two."""
        lines = {
            when: tuple(dict.fromkeys((*self.lines.get(when, ()), *other.lines.get(when, ()))))
            for when in (*self.lines, *(when for when in other.lines if when not in self.lines))
        }
        return DutyTable(lines, {**other.works, **self.works}) if other != self else self


def _plain(kind: str) -> DutyWork:
    name = title(kind)
    return DutyWork("nobody named", f"Repeat: {name}", f"Decide whether to repeat: {name}", "no table names this kind")


def _table() -> dict[str, Any]:
    table: dict[str, Any] = shipped()["duties"]
    return table


@lru_cache(maxsize=1)
def as_shipped() -> DutyTable:
    """The table without anything of a house."""
    works = {kind: _work(kind, _table()["kind"][kind]) for kind in KINDS}
    return DutyTable(_by_class([_rule(row["id"], row) for row in _table()["row"]]), works)


def table_of(workspace: Workspace) -> DutyTable:
    """The table that a workspace is judged by: what ships, and the ``[[duty]]`` and ``[kind]`` of its rules."""
    return workspace.derived.cached("duties", lambda: _with_house(workspace))


def house_duties(workspace: Workspace) -> dict[Path, tuple[str, ...]]:
    """The places of the house's own rows among the facts, each with the kinds that it names."""
    rows, _ = _house(workspace)
    return {path: (*row.get("repeat", ()), *row.get("decide", ())) for path, row in rows.items()}


def house_kinds(workspace: Workspace) -> tuple[Path, ...]:
    """The places of the house's own kinds of evidence among the facts, each named at its end."""
    _, works = _house(workspace)
    return tuple(works)


def _with_house(workspace: Workspace) -> DutyTable:
    rows, works = _house(workspace)
    if not (rows or works):
        return as_shipped()
    own = [_rule(path[3], row) for path, row in rows.items() if {"when", "source"} <= row.keys()]
    lines = dict(as_shipped().lines)
    for when, more in _by_class(own).items():
        lines[when] = (*lines.get(when, ()), *more)
    made = {
        path[3]: _work(path[3], work)
        for path, work in works.items()
        if path[3] not in KINDS and {"owner", "source"} <= work.keys()
    }
    return DutyTable(lines, {**as_shipped().works, **made})


def _house(workspace: Workspace) -> tuple[dict[Path, dict[str, Any]], dict[Path, dict[str, Any]]]:
    """Give rows and kinds of the house that can be read, each by its place among the facts."""
    found: dict[str, dict[Path, dict[str, Any]]] = {DUTY: {}, KIND: {}}
    for path, value in workspace.facts.items():
        if path[0] != "rules" or len(path) < 5 or path[2] not in found:
            continue
        row = found[path[2]].setdefault(path[:4], {})
        if path[4] == "of":
            row.setdefault("of", []).append(path[5].casefold() if len(path) > 5 else "")
        elif isinstance(value, Quantity):
            row |= {"above": str(value.base), "said": str(value)}
        else:
            row[path[4]] = value
    whole = {
        name: {path: row for path, row in rows.items() if not any(isinstance(part, Unread) for part in row.values())}
        for name, rows in found.items()
    }
    return whole[DUTY], whole[KIND]


def _by_class(rows: Sequence[DutyRule]) -> dict[str, tuple[DutyRule, ...]]:
    found: dict[str, list[DutyRule]] = {}
    for row in rows:
        found.setdefault(row.when, []).append(row)
    return {when: tuple(same) for when, same in found.items()}


def _rule(name: str, row: Mapping[str, Any]) -> DutyRule:
    return DutyRule(
        name, row["when"], Fraction(row.get("above", 0)), row.get("said", ""), frozenset(row.get("of", ())),
        tuple(row.get("repeat", ())), tuple(row.get("decide", ())), row["source"],
    )  # fmt: skip


def _work(kind: str, work: Mapping[str, Any]) -> DutyWork:
    plain = _plain(kind)
    return DutyWork(
        work["owner"], work.get("repeat", plain.repeat), work.get("decide", plain.decide), work["source"]
    )  # fmt: skip


def note() -> str:
    """Say what the sizes of the table are and that they bind nobody."""
    text: str = _table()["note"]
    return text


def scale() -> str:
    """Name the text that the sizes are taken from."""
    text: str = _table()["scale"]
    return text
