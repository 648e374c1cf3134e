"""The table of causes that ships: symptoms and what pushes them which way, each row with its source.

It is read when a trace asks for it and by nothing else, in some 10 ms: it is no part of `compiled.json`, which every
`check` reads.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, NamedTuple

from formula_vcs.model.facts import Facts, unread
from formula_vcs.trace.cause_file import Cause, Symptom, folded, read_causes

TABLE: Final = Path(__file__).parents[1] / "law" / "packs" / "causes.toml"


class Causes(NamedTuple):
    """The table: symptoms by name, rows in the order of the file, and by other words the functions that rows name."""

    symptoms: tuple[Symptom, ...]
    rows: tuple[Cause, ...]
    functions: Mapping[str, str]

    def function(self, word: str) -> str:
        """Give what the rows call a function: "Gelling agent" is a thickener; a word that is not known is itself."""
        return self.functions.get(folded(word), word)

    def symptom(self, result: str) -> Symptom | None:
        """Give the symptom that a result's name means, or None where the table does not know it."""
        found = max(self.symptoms, key=lambda symptom: symptom.means(result), default=None)
        return found if found is not None and found.means(result) else None

    def of(self, symptom: Symptom) -> tuple[Cause, ...]:
        """Give the rows about a symptom."""
        return tuple(row for row in self.rows if row.symptom == symptom.name)


@lru_cache(maxsize=1)
def causes() -> Causes:
    """Give the table that ships.

    :raises ValueError: a row cannot be read; the message names them all.
    """
    return table(tomllib.loads(TABLE.read_text(encoding="utf-8"), parse_float=Decimal))


def table(data: dict[str, Any]) -> Causes:
    """Make a table of its data.

    :raises ValueError: a row cannot be read, an id stands twice, or a symptom is not there.
    """
    facts = read_causes(data)
    bad = [f"causes: {'/'.join(path)}: {value.message}" for path, value in unread(facts)]
    if bad:
        raise ValueError("\n".join(bad))
    symptoms = tuple(_symptom(facts, number) for number in _numbers(facts, "symptom"))
    rows = tuple(_cause(facts, number) for number in _numbers(facts, "cause"))
    known = {symptom.name for symptom in symptoms}
    ids = [row.id for row in rows]
    wrong = [f"causes: {row.id}: no symptom is called '{row.symptom}'" for row in rows if row.symptom not in known]
    wrong += [f"causes: '{name}' stands twice" for name in dict.fromkeys(ids) if ids.count(name) > 1]
    if wrong:
        raise ValueError("\n".join(wrong))
    return Causes(symptoms, rows, _functions(facts))


def _numbers(facts: Facts, kind: str) -> list[str]:
    return list(dict.fromkeys(path[1] for path in facts if path[0] == kind and len(path) > 2))


def _functions(facts: Facts) -> dict[str, str]:
    found: dict[str, str] = {}
    for number in _numbers(facts, "function"):
        name = facts["function", number, "name"]
        found.update((folded(word), name) for word in (name, *facts["function", number, "also"]))
    return found


def _symptom(facts: Facts, number: str) -> Symptom:
    also, less, more = (facts.get(("symptom", number, key), ()) for key in ("also", "less", "more"))
    return Symptom(facts["symptom", number, "name"], also, less, more)


def _cause(facts: Facts, number: str) -> Cause:
    def words(key: str) -> frozenset[str]:
        return frozenset(facts.get(("cause", number, key), ()))

    def one(key: str) -> str:
        return str(facts.get(("cause", number, key), ""))

    return Cause(
        one("id"), one("symptom"), one("kind"), words("what"), frozenset(map(folded, words("name"))), words("of"),
        words("role"), words("forms"), one("effect"), one("why"), one("source"), one("checked"),
    )  # fmt: skip
