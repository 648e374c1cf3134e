"""The table of duties that ships: which evidence a change outdates, and who makes it anew."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Any

from formula_vcs.law.packs_in_force import shipped
from formula_vcs.model.duty_rule import DutyRule, DutyWork


def _table() -> dict[str, Any]:
    table: dict[str, Any] = shipped()["duties"]
    return table


@lru_cache(maxsize=1)
def lines() -> dict[str, tuple[DutyRule, ...]]:
    """Give the rows of each class of change."""
    found: dict[str, list[DutyRule]] = {}
    for row in _table()["row"]:
        line = DutyRule(
            row["id"], row["when"], Fraction(row.get("above", 0)), row.get("said", ""), frozenset(row.get("of", ())),
            tuple(row.get("repeat", ())), tuple(row.get("decide", ())), row["source"],
        )  # fmt: skip
        found.setdefault(line.when, []).append(line)
    return {when: tuple(rows) for when, rows in found.items()}


@lru_cache(maxsize=64)
def work(kind: str, scheme: str = "") -> DutyWork:
    """Give who makes a kind of evidence; of a certificate the ground is what its scheme says."""
    row = _table()["kind"][kind]
    of = _table()["scheme"]
    named = max((name for name in of if scheme.startswith(name)), key=len, default="") if kind == "certificate" else ""
    return DutyWork(row["owner"], row["repeat"], row["decide"], of[named]["source"] if named else row["source"])


def note() -> str:
    """Say what the sizes of the table are and that they bind nobody."""
    text: str = _table()["note"]
    return text


def scale() -> str:
    """Name the text that the sizes are taken from."""
    text: str = _table()["scale"]
    return text
